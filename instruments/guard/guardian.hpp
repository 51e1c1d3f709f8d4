/// The guardian: a small process that owns the link to every instrument that can drive or switch,
/// and turns them off when the program that uses them dies or shows no sign of life.
///
/// It passes the program's lines through and knows nothing of what they mean. It acts when the
/// program's end of the socket closes (it died, whatever the way), when no sign of life came for
/// the lease while the program was driving (it hangs), and when it is told to stop. Then it takes
/// no more commands, sends each off command, reads back, and tries again over a new connection
/// until every instrument has confirmed.
#pragma once

#include "instruments/async.hpp"
#include "instruments/guard/make_safe_list.hpp"

#include <functional>
#include <memory>
#include <string>

namespace afterload::instruments {

struct GuardianSettings {
    Seconds lease{0.7};
    std::string door;  ///< path of the socket at which it may be told to stop; empty: none
    std::function<void(const std::string&)> say;  ///< one line of what it did
};

class Guardian {
public:
    /// `program`: its end of a socket pair, a descriptor that it closes.
    Guardian(int program, GuardianSettings settings);
    ~Guardian();
    Guardian(const Guardian&) = delete;
    Guardian& operator=(const Guardian&) = delete;

    /// Until the program is gone and everything is off. False: an instrument did not confirm.
    [[nodiscard]] Task<bool> watch();
    /// From outside: make safe now, take no more commands, and end watch().
    void end(const std::string& why);

private:
    class State;
    std::shared_ptr<State> state_;
};

/// Tells the guardian behind `door` to stop, and gives what it says it did, a line an instrument.
/// Fails with `lost` where none is there, with `no_reply` where it says nothing by the deadline.
[[nodiscard]] BenchResult<std::string> tell_guardian_to_stop(const std::string& door,
                                                             Seconds deadline);

}  // namespace afterload::instruments
