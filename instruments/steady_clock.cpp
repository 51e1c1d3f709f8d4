#include "instruments/steady_clock.hpp"

#include "instruments/ticks.hpp"

#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>

namespace afterload::instruments {

Seconds SteadyClock::now() const {
    return monotonic_now() - opened_;
}

Task<void> SteadyClock::sleep(Seconds duration) {
    auto executor = co_await boost::asio::this_coro::executor;
    boost::asio::steady_timer timer{executor, ticks(std::max(Seconds{0.0}, duration))};
    co_await timer.async_wait(boost::asio::use_awaitable);
}

}  // namespace afterload::instruments
