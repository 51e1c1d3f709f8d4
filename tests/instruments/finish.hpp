// Runs one coroutine of the bench to its end.
#pragma once

#include "instruments/async.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>

#include <exception>
#include <optional>
#include <utility>

namespace afterload::instruments::probe {

template <class T>
T finish(Task<T> task) {
    boost::asio::io_context context{1};
    std::optional<T> result;
    auto ended = [&result](const std::exception_ptr& error, T value) {
        if (error) {
            std::rethrow_exception(error);
        }
        result.emplace(std::move(value));
    };
    boost::asio::co_spawn(context, std::move(task), ended);
    context.run();
    return std::move(*result);
}

inline void finish(Task<void> task) {
    boost::asio::io_context context{1};
    auto ended = [](const std::exception_ptr& error) {
        if (error) {
            std::rethrow_exception(error);
        }
    };
    boost::asio::co_spawn(context, std::move(task), ended);
    context.run();
}

}  // namespace afterload::instruments::probe
