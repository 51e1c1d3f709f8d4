/// Runs one coroutine to its end on an I/O context of its own and gives back what it returns; an
/// exception that leaves the coroutine leaves this function.
#pragma once

#include "instruments/async.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>

#include <exception>
#include <optional>
#include <utility>

namespace afterload::runner {

template <class T>
[[nodiscard]] T run_to_end(instruments::Task<T> task) {
    boost::asio::io_context context{1};
    std::exception_ptr trouble;
    std::optional<T> result;
    auto ended = [&](std::exception_ptr error, T value) {
        trouble = std::move(error);
        result = std::move(value);
        context.stop();  // what still waits (a sign of life, say) waits for nothing now
    };
    boost::asio::co_spawn(context, std::move(task), ended);
    context.run();
    if (trouble) {
        std::rethrow_exception(trouble);
    }
    return std::move(*result);
}

}  // namespace afterload::runner
