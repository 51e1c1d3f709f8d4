/// Runs one coroutine to its end on an I/O context of its own and gives back what it returns; an
/// exception that leaves the coroutine leaves this function.
///
/// `turned`, where there is one, is called a few times a second while the context's loop turns: a
/// sign that nothing in it hangs.
#pragma once

#include "instruments/async.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <chrono>
#include <exception>
#include <functional>
#include <optional>
#include <utility>

namespace afterload::runner {

/// Calls `turned` until the context is stopped.
inline instruments::Task<void> tell_turns(boost::asio::steady_timer& timer,
                                          std::function<void()> turned) {
    while (true) {
        turned();
        timer.expires_after(std::chrono::milliseconds{250});
        co_await timer.async_wait(boost::asio::use_awaitable);
    }
}

template <class T>
[[nodiscard]] T run_to_end(instruments::Task<T> task, const std::function<void()>& turned = {}) {
    boost::asio::io_context context{1};
    std::exception_ptr trouble;
    std::optional<T> result;
    auto ended = [&](std::exception_ptr error, T value) {
        trouble = std::move(error);
        result = std::move(value);
        context.stop();  // what still waits (a sign of life, say) waits for nothing now
    };
    boost::asio::co_spawn(context, std::move(task), ended);
    boost::asio::steady_timer timer{context};
    if (turned) {
        boost::asio::co_spawn(context, tell_turns(timer, turned), instruments::rethrow);
    }
    context.run();
    if (trouble) {
        std::rethrow_exception(trouble);
    }
    return std::move(*result);
}

}  // namespace afterload::runner
