#include "runner/daemon/submission.hpp"

#include "runner/base64.hpp"
#include "runner/papers.hpp"
#include "runner/papers/json_place.hpp"
#include "runner/soak/soak_file.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace afterload::runner {
namespace {

constexpr std::size_t longest_file = std::size_t{1} << 20U;
constexpr std::size_t longest_run = std::size_t{16} << 20U;
constexpr std::size_t longest_word = 1000;
constexpr std::size_t most_settings = 100;
constexpr std::size_t most_files = 16;

std::string short_text(const JsonPlace& place) {
    std::string text = place.text();
    if (text.size() > longest_word) {
        place.misfit("no more than 1000 characters are taken here");
    }
    return text;
}

std::string sound(const JsonPlace& place) {
    auto bytes = from_base64(place.text());
    if (!bytes) {
        place.misfit("is no base64 (RFC 4648)");
    }
    if (bytes->size() > longest_sound) {
        place.misfit("holds more than 16 MiB: give a shorter piece, it is played round and round");
    }
    return *std::move(bytes);
}

InputText input_file(const JsonPlace& place) {
    static constexpr std::array<std::string_view, 8> roles{
        "sequence", "rating", "house", "job", role_before, role_hints, role_retest, stimulus_role};
    InputText file;
    file.role = short_text(place.at("role"));
    if (std::find(roles.begin(), roles.end(), file.role) == roles.end()) {
        place.at("role").misfit(
            "is none of sequence, rating, house, job, before, hints, retest, stimulus");
    }
    file.path = short_text(place.at("path"));
    if (file.role == stimulus_role) {
        file.text = sound(place.at("base64"));
        return file;
    }
    file.text = place.at("text").text();
    // The program wrote the run of before: a soak of many hours has much to say.
    const bool a_run = file.role == role_before;
    if (file.text.size() > (a_run ? longest_run : longest_file)) {
        place.at("text").misfit(
            a_run ? "is over 16 MiB: no run says that much"
                  : "is over 1 MiB: no file a person writes for a bench is that long");
    }
    return file;
}

Submission submission_at(const JsonPlace& root) {
    if (root.text_or("schema") != submission_schema) {
        root.misfit("this is no " + std::string{submission_schema});
    }
    Submission submission;
    RunRequest& request = submission.request;
    for (const JsonPlace& place : root.at("files").items()) {
        InputText file = input_file(place);
        if (file.role != stimulus_role && request.file(file.role) != nullptr) {
            place.misfit("a second " + file.role);
        }
        request.files.push_back(std::move(file));
        if (request.files.size() > most_files) {
            place.misfit("one of more than 16 files");
        }
    }
    for (const char* role : {"sequence", "rating"}) {
        if (request.file(role) == nullptr) {
            root.at("files").misfit("no file with the role " + std::string{role});
        }
    }
    if (const auto set = root.find("set")) {
        for (const std::string& key : set->keys()) {
            request.set.emplace_back(key, short_text(set->at(key)));
        }
        if (request.set.size() > most_settings) {
            set->misfit("more than 100 settings");
        }
    }
    const auto word = [&](const char* key) {
        const auto place = root.find(key);
        return place ? short_text(*place) : std::string{};
    };
    request.serial = word("serial");
    request.job = word("job");
    if (const auto place = root.find("stage")) {
        request.stage =
            named_value(*place, [](const std::string& wanted) { return stage(wanted); });
    }
    request.power_as_received = root.boolean_or("power_as_received", false);
    submission.assume_prompts = root.boolean_or("assume_prompts", false);
    return submission;
}

}  // namespace

Json submission_json(const Submission& submission) {
    const RunRequest& request = submission.request;
    Json document;
    document["schema"] = submission_schema;
    document["files"] = Json::array();
    for (const InputText& file : request.files) {
        Json one{{"role", file.role}, {"path", file.path}};
        if (file.role == stimulus_role) {
            one["base64"] = base64(file.text);
        } else {
            one["text"] = file.text;
        }
        document["files"].push_back(std::move(one));
    }
    document["set"] = Json::object();
    for (const auto& [name, value] : request.set) {
        document["set"][name] = value;
    }
    document["serial"] = request.serial;
    document["job"] = request.job;
    document["stage"] = name(request.stage);
    document["power_as_received"] = request.power_as_received;
    document["assume_prompts"] = submission.assume_prompts;
    return document;
}

tl::expected<Submission, std::string> read_submission(std::string_view text) {
    const auto document = parse_json(text);
    if (!document) {
        return tl::unexpected(document.error());
    }
    try {
        return submission_at(JsonPlace{*document});
    } catch (const JsonMisfit& misfit) {
        return tl::unexpected(std::string{misfit.what()});
    }
}

}  // namespace afterload::runner
