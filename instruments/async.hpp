/// The one door to Boost.Asio: what an instrument's coroutine returns.
///
/// Two habits are binding, since g++ 12 destroys some temporaries twice inside a co_await
/// expression: name a settings struct or a lambda on the line above, then await; one co_await to a
/// statement.
#pragma once

#include <boost/asio/awaitable.hpp>

#include <utility>

namespace afterload::instruments {

template <class T>
using Task = boost::asio::awaitable<T>;

/// Lets everything else that waits on this thread go first (a signal, a stop), then goes on.
[[nodiscard]] Task<void> give_way();

}  // namespace afterload::instruments
