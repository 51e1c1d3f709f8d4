/// Something on the other end of a TCP connection on this machine that answers as it is told,
/// rightly or wrongly. One client, on a thread of its own.
#pragma once

#include <arpa/inet.h>
#include <atomic>
#include <chrono>
#include <functional>
#include <netinet/in.h>
#include <poll.h>
#include <stdexcept>
#include <string>
#include <sys/socket.h>
#include <thread>
#include <unistd.h>
#include <utility>

namespace afterload::instruments::test {

class ScriptedPeer {
public:
    /// Answers to one line; false: closes the connection.
    using Script = std::function<bool(const std::string& line, const ScriptedPeer& peer)>;

    explicit ScriptedPeer(Script script) : script_{std::move(script)} {
        listening_ = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
        sockaddr_in place{};
        place.sin_family = AF_INET;
        place.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        socklen_t size = sizeof place;
        auto* const address = reinterpret_cast<sockaddr*>(&place);
        if (bind(listening_, address, size) != 0 || listen(listening_, 1) != 0 ||
            getsockname(listening_, address, &size) != 0) {
            throw std::runtime_error("no port for a peer");
        }
        port_ = ntohs(place.sin_port);
        thread_ = std::thread{[this] { serve(); }};
    }
    ScriptedPeer(const ScriptedPeer&) = delete;
    ScriptedPeer& operator=(const ScriptedPeer&) = delete;
    ~ScriptedPeer() {
        over_.store(true);
        thread_.join();
        close(listening_);
    }

    [[nodiscard]] std::string address() const { return "tcp://127.0.0.1:" + std::to_string(port_); }
    void say(const std::string& text) const {
        [[maybe_unused]] const auto sent = send(client_, text.data(), text.size(), MSG_NOSIGNAL);
    }
    static void wait(double seconds) {
        std::this_thread::sleep_for(std::chrono::duration<double>{seconds});
    }
    [[nodiscard]] bool over() const { return over_.load(); }

private:
    void serve() {
        while (!over_.load()) {
            if (!ready(listening_)) {
                continue;
            }
            client_ = accept(listening_, nullptr, nullptr);
            talk();
            close(client_);
        }
    }
    void talk() {
        std::string heard;
        while (!over_.load()) {
            const auto end = heard.find('\n');
            if (end != std::string::npos) {
                const std::string line = heard.substr(0, end);
                heard.erase(0, end + 1);
                if (!script_(line, *this)) {
                    return;
                }
                continue;
            }
            char block[256];
            if (ready(client_)) {
                const auto got = recv(client_, block, sizeof block, 0);
                if (got <= 0) {
                    return;
                }
                heard.append(block, static_cast<std::size_t>(got));
            }
        }
    }
    static bool ready(int descriptor) {
        pollfd one{descriptor, POLLIN, 0};
        return poll(&one, 1, 20) > 0;
    }

    Script script_;
    int listening_ = -1;
    int client_ = -1;
    int port_ = 0;
    std::atomic<bool> over_{false};
    std::thread thread_;
};

}  // namespace afterload::instruments::test
