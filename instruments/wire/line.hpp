/// A line to an instrument: lines of text out, lines of text in, each with a deadline.
#pragma once

#include "instruments/async.hpp"
#include "instruments/failure.hpp"

#include <memory>
#include <optional>
#include <string>

namespace afterload::instruments {

class Line {
public:
    Line() = default;
    Line(const Line&) = delete;
    Line& operator=(const Line&) = delete;
    virtual ~Line() = default;

    /// "tcp://192.0.2.7:5025", as a person wrote it.
    [[nodiscard]] virtual std::string address() const = 0;
    /// Sends `text` and the end of line. Fails with `no_reply` when it cannot be sent by the
    /// deadline, with `lost` when the other side is gone.
    [[nodiscard]] virtual Task<BenchResult<void>> write(std::string text, Seconds deadline) = 0;
    /// The next line without its end (LF or CR LF). Fails with `no_reply` when none is whole by the
    /// deadline, with `lost` when the other side is gone, with `wrong_reply` when it goes on for
    /// more than longest_line without an end.
    [[nodiscard]] virtual Task<BenchResult<std::string>> read(Seconds deadline) = 0;
    /// What has come in and was not asked for, taken away; empty: nothing. Does not wait.
    [[nodiscard]] virtual Task<std::string> unasked() = 0;
    /// Ends a write() or read() that waits: it fails at once.
    virtual void interrupt() = 0;
};

inline constexpr std::size_t longest_line = 4096;  ///< characters

/// The first whole line of what was heard, without its end (LF or CR LF), taken off it; nothing
/// where none is whole yet.
[[nodiscard]] std::optional<std::string> take_line(std::string& heard);

/// Opens "tcp://HOST:PORT", "serial:/dev/PATH[?baud=9600]" (8 bits, no parity, one stop bit) or
/// "usbtmc:/dev/PATH".
/// Fails with `lost` when nobody answers there by the deadline, with `refused` for an address that
/// is none.
[[nodiscard]] Task<BenchResult<std::unique_ptr<Line>>> open_line(std::string address,
                                                                 Seconds deadline);

}  // namespace afterload::instruments
