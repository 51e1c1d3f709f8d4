#include "runner/run_until_signal.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>

#include <csignal>
#include <exception>
#include <utility>

namespace afterload::runner {

void run_until_signal(instruments::Task<void> task) {
    boost::asio::io_context context{1};
    boost::asio::signal_set signals{context, SIGINT, SIGTERM};
    const auto stop = [&context](const boost::system::error_code& error, int /*signal*/) {
        if (!error) {
            context.stop();
        }
    };
    signals.async_wait(stop);
    std::exception_ptr trouble;
    const auto ended = [&](std::exception_ptr error) {
        trouble = std::move(error);
        context.stop();
    };
    boost::asio::co_spawn(context, std::move(task), ended);
    context.run();
    if (trouble) {
        std::rethrow_exception(trouble);
    }
}

}  // namespace afterload::runner
