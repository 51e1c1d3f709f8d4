#include "runner/daemon/api.hpp"

#include "runner/daemon/metrics.hpp"
#include "runner/daemon/openapi.hpp"
#include "runner/papers/json_place.hpp"
#include "runner/record/run_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <utility>

namespace afterload::runner {
namespace {

int status_of(DeskRefusal::Kind kind) {
    switch (kind) {
        case DeskRefusal::Kind::bad_input:
            return 422;
        case DeskRefusal::Kind::not_found:
            return 404;
        case DeskRefusal::Kind::conflict:
            return 409;
        case DeskRefusal::Kind::full:
            return 429;
        case DeskRefusal::Kind::no_bench:
            return 503;
        case DeskRefusal::Kind::disk:
            return 507;
    }
    return 500;
}

ApiResponse refused(const DeskRefusal& why) {
    return problem(status_of(why.kind), why.why, why.mistakes);
}

ApiResponse document(const Json& json, int status = 200) {
    return {status, "application/json", json_line(json) + "\n"};
}

template <class T>
ApiResponse entry_or_refusal(const DeskResult<T>& result, int status = 200) {
    return result ? document(queue_entry_json(*result), status) : refused(result.error());
}

std::optional<unsigned> hex(char letter) {
    unsigned value = 0;
    const auto read = std::from_chars(&letter, &letter + 1, value, 16);
    return read.ec == std::errc{} ? std::optional{value} : std::nullopt;
}

tl::expected<std::string, std::string> decoded(std::string_view text) {
    std::string out;
    for (std::size_t n = 0; n < text.size(); ++n) {
        if (text[n] != '%') {
            out += text[n] == '+' ? ' ' : text[n];
            continue;
        }
        const auto high = n + 1 < text.size() ? hex(text[n + 1]) : std::nullopt;
        const auto low = n + 2 < text.size() ? hex(text[n + 2]) : std::nullopt;
        if (!high || !low || (*high == 0 && *low == 0)) {
            return tl::unexpected(std::string{"a bad percent escape in the path"});
        }
        out += static_cast<char>(*high * 16 + *low);
        n += 2;
    }
    return out;
}

/// A request taken apart.
struct Asked {
    const ApiRequest& request;
    const ApiTarget& target;
    RunDesk& desk;

    [[nodiscard]] const std::string& segment(std::size_t n) const { return target.segments[n]; }
    [[nodiscard]] std::string query(std::string_view key) const {
        const auto found = std::find_if(target.query.begin(), target.query.end(),
                                        [&](const auto& one) { return one.first == key; });
        return found == target.query.end() ? std::string{} : found->second;
    }
};

/// The body as JSON, handed to `use`; what does not fit is a problem that names the place.
template <class Use>
ApiResponse with_body(const Asked& asked, const Use& use) {
    const auto json = parse_json(asked.request.body);
    if (!json) {
        return problem(400, json.error());
    }
    try {
        return use(JsonPlace{*json});
    } catch (const JsonMisfit& misfit) {
        return problem(400, misfit.what());
    }
}

ApiResponse get_status(const Asked& asked) {
    return document(asked.desk.status());
}
ApiResponse get_metrics(const Asked& asked) {
    return {200, metrics_type, metrics_text(asked.desk)};
}
ApiResponse get_openapi(const Asked& /*asked*/) {
    return {200, "application/json", std::string{openapi_text()}};
}
ApiResponse get_health(const Asked& asked) {
    return asked.desk.advances() ? document(Json{{"alive", true}})
                                 : problem(503, "the run's loop does not advance");
}

ApiResponse get_queue(const Asked& asked) {
    Json list = Json::array();
    for (const QueueEntry& entry : asked.desk.queue()) {
        list.push_back(queue_entry_json(entry));
    }
    return document(Json{{"schema", "afterload/queue-list/1"}, {"entries", std::move(list)}});
}
ApiResponse get_entry(const Asked& asked) {
    return entry_or_refusal(asked.desk.entry(asked.segment(2)));
}
ApiResponse delete_entry(const Asked& asked) {
    return entry_or_refusal(asked.desk.cancel(asked.segment(2)));
}
ApiResponse confirm_entry(const Asked& asked) {
    return with_body(asked, [&](const JsonPlace& body) {
        return entry_or_refusal(asked.desk.confirm(asked.segment(2), body.at("serial").text()));
    });
}
ApiResponse submit(const Asked& asked) {
    auto submission = read_submission(asked.request.body);
    if (!submission) {
        return problem(400, submission.error());
    }
    return entry_or_refusal(asked.desk.submit(*std::move(submission)), 202);
}

ApiResponse find_runs(const Asked& asked) {
    RunQuery query;
    query.text = asked.query("text");
    query.serial = asked.query("serial");
    query.model = asked.query("model");
    query.job = asked.query("job");
    query.verdict = asked.query("verdict");
    query.state = asked.query("state");
    query.since = asked.query("since");
    query.until = asked.query("until");
    query.stage = asked.query("stage");
    query.failed = asked.query("failed");
    query.said = asked.query("said");
    if (const std::string most = asked.query("most"); !most.empty()) {
        const auto read = std::from_chars(most.data(), most.data() + most.size(), query.most);
        if (read.ec != std::errc{} || read.ptr != most.data() + most.size() || query.most < 1 ||
            query.most > 100000) {
            return problem(400, "most: a whole number from 1 to 100000 is due");
        }
    }
    const auto found = asked.desk.find(query);
    return found ? document(runs_json(*found)) : refused(found.error());
}

ApiResponse file_of_run(const Asked& asked, const char* file, const char* type) {
    const auto text = asked.desk.run_file(asked.segment(2), file);
    return text ? ApiResponse{200, type, *text} : refused(text.error());
}
ApiResponse get_run(const Asked& asked) {
    return file_of_run(asked, "run.json", "application/json");
}
ApiResponse get_report(const Asked& asked) {
    return file_of_run(asked, "report.html", "text/html; charset=utf-8");
}
ApiResponse get_figures(const Asked& asked) {
    return file_of_run(asked, "figures.csv", "text/csv; charset=utf-8");
}

ApiResponse stop(const Asked& asked) {
    return document(Json{{"stopping", asked.desk.stop_run()}});
}

ApiResponse answer_prompt(const Asked& asked) {
    return with_body(asked, [&](const JsonPlace& body) {
        PromptAnswer answer;
        answer.number = body.at("prompt").whole_unsigned();
        answer.answer =
            named_value(body.at("answer"), [](const std::string& word) -> std::optional<Answer> {
                if (word == "done") {
                    return Answer::done;
                }
                if (word == "skip") {
                    return Answer::skip;
                }
                return word == "stop" ? std::optional{Answer::stop} : std::nullopt;
            });
        answer.text = body.text_or("text");
        if (answer.text.size() > 1000) {
            body.at("text").misfit("no more than 1000 characters are taken here");
        }
        const auto taken = asked.desk.answer(std::move(answer));
        return taken ? document(Json{{"answered", true}}) : refused(taken.error());
    });
}

ApiResponse add_note(const Asked& asked) {
    return with_body(asked, [&](const JsonPlace& body) {
        const std::string text = body.at("text").text();
        if (text.empty() || text.size() > 10000) {
            body.at("text").misfit("a note has 1 to 10000 characters");
        }
        const auto taken = asked.desk.note(text);
        return taken ? document(Json{{"noted", true}}) : refused(taken.error());
    });
}

struct Route {
    std::string_view method;
    std::string_view path;  ///< "{}" stands for any segment
    ApiResponse (*answer)(const Asked&);
};
constexpr std::array<Route, 16> routes{{{"GET", "/v1/status", get_status},
                                        {"GET", "/v1/health", get_health},
                                        {"GET", "/v1/metrics", get_metrics},
                                        {"GET", "/v1/openapi.json", get_openapi},
                                        {"GET", "/v1/queue", get_queue},
                                        {"POST", "/v1/queue", submit},
                                        {"GET", "/v1/queue/{}", get_entry},
                                        {"DELETE", "/v1/queue/{}", delete_entry},
                                        {"POST", "/v1/queue/{}/confirm", confirm_entry},
                                        {"GET", "/v1/runs", find_runs},
                                        {"GET", "/v1/runs/{}", get_run},
                                        {"GET", "/v1/runs/{}/report", get_report},
                                        {"GET", "/v1/runs/{}/figures", get_figures},
                                        {"POST", "/v1/stop", stop},
                                        {"POST", "/v1/prompt", answer_prompt},
                                        {"POST", "/v1/notes", add_note}}};

bool fits(std::string_view path, const std::vector<std::string>& segments) {
    std::size_t n = 0;
    while (!path.empty()) {
        path.remove_prefix(1);
        const std::string_view part = path.substr(0, path.find('/'));
        path.remove_prefix(part.size());
        if (n >= segments.size() || (part != "{}" && part != segments[n])) {
            return false;
        }
        ++n;
    }
    return n == segments.size();
}

}  // namespace

tl::expected<ApiTarget, std::string> api_target(std::string_view target) {
    if (target.empty() || target.front() != '/') {
        return tl::unexpected(std::string{"an absolute path is due"});
    }
    const std::size_t mark = target.find('?');
    std::string_view path = target.substr(0, mark);
    std::string_view query =
        mark == std::string_view::npos ? std::string_view{} : target.substr(mark + 1);
    ApiTarget taken;
    while (!path.empty()) {
        path.remove_prefix(1);
        const std::string_view part = path.substr(0, path.find('/'));
        path.remove_prefix(part.size());
        auto segment = decoded(part);
        if (!segment) {
            return tl::unexpected(std::move(segment.error()));
        }
        if (segment->empty() || *segment == "." || *segment == "..") {
            return tl::unexpected(std::string{"an empty or a dot segment in the path"});
        }
        taken.segments.push_back(*std::move(segment));
    }
    while (!query.empty()) {
        const std::string_view pair = query.substr(0, query.find('&'));
        query.remove_prefix(std::min(query.size(), pair.size() + 1));
        const std::size_t equals = std::min(pair.find('='), pair.size());
        auto key = decoded(pair.substr(0, equals));
        auto value = decoded(pair.substr(std::min(pair.size(), equals + 1)));
        if (!key || !value) {
            return tl::unexpected(key ? std::move(value.error()) : std::move(key.error()));
        }
        taken.query.emplace_back(*std::move(key), *std::move(value));
    }
    return taken;
}

ApiResponse problem(int status, std::string_view what, const Json& mistakes) {
    Json document;
    document["type"] = fmt::format("urn:afterload:problem:{}", status);
    document["title"] = what;
    document["status"] = status;
    if (!mistakes.empty()) {
        document["mistakes"] = mistakes;
    }
    return {status, "application/problem+json", json_line(document) + "\n"};
}

ApiResponse answer_api(const ApiRequest& request, RunDesk& desk) {
    const auto target = api_target(request.target);
    if (!target) {
        return problem(400, target.error());
    }
    bool known = false;
    for (const Route& route : routes) {
        if (!fits(route.path, target->segments)) {
            continue;
        }
        known = true;
        if (route.method == request.method) {
            return route.answer(Asked{request, *target, desk});
        }
    }
    return known ? problem(405, "this path knows no " + request.method)
                 : problem(404, "no such path; /v1/openapi.json says what there is");
}

}  // namespace afterload::runner
