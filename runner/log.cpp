#include "runner/log.hpp"

#include "sequences/diagnostic.hpp"

#include <spdlog/sinks/basic_file_sink.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/sinks/systemd_sink.h>
#include <spdlog/spdlog.h>

#include <memory>

namespace afterload::runner {

tl::expected<void, std::string> log_to(const std::string& where) {
    try {
        std::shared_ptr<spdlog::logger> logger;
        if (where == "journal") {
            logger = std::make_shared<spdlog::logger>(
                "afterloadd", std::make_shared<spdlog::sinks::systemd_sink_mt>("afterloadd"));
        } else if (where == "stderr") {
            logger = std::make_shared<spdlog::logger>(
                "afterloadd", std::make_shared<spdlog::sinks::stderr_sink_mt>());
        } else {
            logger = std::make_shared<spdlog::logger>(
                "afterloadd", std::make_shared<spdlog::sinks::basic_file_sink_mt>(where));
        }
        logger->set_pattern("%Y-%m-%dT%H:%M:%S.%eZ %l %v", spdlog::pattern_time_type::utc);
        logger->flush_on(spdlog::level::info);
        spdlog::set_default_logger(std::move(logger));
        return {};
    } catch (const spdlog::spdlog_ex&) {
        return tl::unexpected(where + ": the log cannot be written there");
    }
}

void log_info(std::string_view text) {
    spdlog::info("{}", sequences::escaped(text));
}
void log_warning(std::string_view text) {
    spdlog::warn("{}", sequences::escaped(text));
}
void log_error(std::string_view text) {
    spdlog::error("{}", sequences::escaped(text));
}

}  // namespace afterload::runner
