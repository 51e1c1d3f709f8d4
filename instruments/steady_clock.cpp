#include "instruments/steady_clock.hpp"

#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <chrono>

namespace afterload::instruments {

Seconds SteadyClock::now() const {
    return monotonic_now() - opened_;
}

Task<void> SteadyClock::sleep(Seconds duration) {
    auto executor = co_await boost::asio::this_coro::executor;
    const std::chrono::duration<double> wanted{std::max(0.0, duration.in<Seconds>())};
    boost::asio::steady_timer timer{executor};
    timer.expires_after(std::chrono::duration_cast<std::chrono::nanoseconds>(wanted));
    co_await timer.async_wait(boost::asio::use_awaitable);
}

}  // namespace afterload::instruments
