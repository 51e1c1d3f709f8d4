/// The one door to Boost.Asio: what an instrument's coroutine returns.
///
/// Two habits are binding, since g++ 12 destroys some temporaries twice inside a co_await
/// expression: name a settings struct or a lambda on the line above, then await; one co_await to a
/// statement.
#pragma once

#include <boost/asio/awaitable.hpp>

#include <exception>
#include <utility>

namespace afterload::instruments {

template <class T>
using Task = boost::asio::awaitable<T>;

/// What a coroutine that is spawned at the top ends with: its exception leaves the loop that runs
/// it, and is not swallowed.
inline void rethrow(const std::exception_ptr& error) {
    if (error) {
        std::rethrow_exception(error);
    }
}

/// Lets everything else that waits on this thread go first (a signal, a stop), then goes on.
[[nodiscard]] Task<void> give_way();

}  // namespace afterload::instruments
