// The parts of the daemon that need no socket: events, queue, the words of a request.
#include "runner/base64.hpp"
#include "runner/daemon/api.hpp"
#include "runner/daemon/event_log.hpp"
#include "runner/daemon/run_queue.hpp"
#include "runner/daemon/submission.hpp"
#include "tests/sequences/file_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <memory>
#include <string>
#include <unistd.h>

namespace afterload::runner {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;

class Folder {
public:
    Folder() : path_{fs::temp_directory_path() / ("afterload-daemon-" + std::to_string(getpid()))} {
        fs::remove_all(path_);
        fs::create_directories(path_);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    ~Folder() { fs::remove_all(path_); }
    [[nodiscard]] std::string operator/(const std::string& name) const {
        return (path_ / name).string();
    }

private:
    fs::path path_;
};

std::vector<std::uint64_t> ids_behind(const EventLog& log, std::uint64_t id) {
    std::uint64_t place = log.place_behind(id);
    bool passed_over = false;
    std::vector<std::uint64_t> ids;
    for (const Event& event : log.read(place, 1000, passed_over)) {
        ids.push_back(event.id);
    }
    return ids;
}

TEST(EventLog, CountsOnOverARestartAndKeepsNoMention) {
    const Folder folder;
    {
        auto log = EventLog::open(folder / "events");
        ASSERT_TRUE(log);
        (*log)->tell("a", Json{{"n", 1}});
        (*log)->mention("doing", Json::object());
        (*log)->tell("b", Json{{"n", 2}});
        EXPECT_EQ(ids_behind(**log, 0), (std::vector<std::uint64_t>{1, 0, 2}));
    }
    auto log = EventLog::open(folder / "events");
    ASSERT_TRUE(log);
    (*log)->tell("c", Json{{"n", 3}});
    EXPECT_EQ(ids_behind(**log, 1), (std::vector<std::uint64_t>{2, 3}));
}

TEST(EventLog, CutsATornLineOffWhereverItIsTorn) {
    const Folder folder;
    {
        auto log = EventLog::open(folder / "events");
        ASSERT_TRUE(log);
        (*log)->tell("a", Json{{"text", "one"}});
        (*log)->tell("b", Json{{"text", "two"}});
    }
    const std::string whole = sequences::file_text(folder / "events");
    const std::size_t first = whole.find('\n') + 1;
    for (std::size_t length = first; length < whole.size(); ++length) {
        fs::remove(folder / "events");
        std::ofstream{folder / "events", std::ios::binary} << whole.substr(0, length);
        auto log = EventLog::open(folder / "events");
        ASSERT_TRUE(log);
        EXPECT_EQ(ids_behind(**log, 0), std::vector<std::uint64_t>{1}) << length;
        (*log)->tell("c", Json{{"text", "three"}});
        EXPECT_EQ(ids_behind(**log, 1), std::vector<std::uint64_t>{2});
    }
}

TEST(EventLog, LetsASlowFollowerPassOverWhatIsNotKept) {
    const Folder folder;
    auto log = EventLog::open(folder / "events");
    ASSERT_TRUE(log);
    std::uint64_t place = (*log)->place_at_end();
    for (int n = 0; n < 25000; ++n) {
        (*log)->mention("doing", Json{{"n", n}});
    }
    bool passed_over = false;
    const auto events = (*log)->read(place, 10, passed_over);
    EXPECT_TRUE(passed_over);
    ASSERT_EQ(events.size(), 10U);
    EXPECT_EQ(events.front().data["n"], 5000);
    (void)(*log)->read(place, 10, passed_over);
    EXPECT_FALSE(passed_over);
}

Submission a_submission() {
    Submission submission;
    submission.request.files = {{"sequence", "a.sequence.yaml", "afterload: sequence/1\n"},
                                {"rating", "b.rating.yaml", "afterload: rating/1\n“x”\n"}};
    submission.request.set = {{"level", "1 W"}};
    submission.request.serial = "40-0117";
    submission.request.stage = Stage::as_received;
    return submission;
}

TEST(Submission, ReadsBackAsItWasWritten) {
    const auto read = read_submission(json_line(submission_json(a_submission())));
    ASSERT_TRUE(read) << read.error();
    EXPECT_EQ(json_line(submission_json(*read)), json_line(submission_json(a_submission())));
}

TEST(Submission, NamesThePlaceOfWhatDoesNotFit) {
    const auto why = [](const auto& change) {
        Json document = submission_json(a_submission());
        change(document);
        const auto read = read_submission(json_line(document));
        return read ? std::string{} : read.error();
    };
    EXPECT_THAT(why([](Json& d) { d["schema"] = "x"; }), HasSubstr("afterload/submission/1"));
    EXPECT_THAT(why([](Json& d) { d["files"][1]["role"] = "bench"; }), HasSubstr("files[1].role"));
    EXPECT_THAT(why([](Json& d) { d["files"].erase(1); }),
                HasSubstr("no file with the role rating"));
    EXPECT_THAT(why([](Json& d) { d["files"][1]["role"] = "sequence"; }), HasSubstr("a second"));
    EXPECT_THAT(why([](Json& d) { d["files"][0]["text"] = std::string(1U << 21U, 'x'); }),
                HasSubstr("over 1 MiB"));
    const auto before = [](std::size_t bytes) {
        return Json{{"role", "before"}, {"path", "a.run.json"}, {"text", std::string(bytes, 'x')}};
    };
    // Of a soak over a day the document is longer than any file that a person writes.
    EXPECT_EQ(why([&](Json& d) { d["files"].push_back(before(std::size_t{3} << 20U)); }), "");
    EXPECT_THAT(why([&](Json& d) { d["files"].push_back(before((std::size_t{16} << 20U) + 1)); }),
                HasSubstr("over 16 MiB"));
    EXPECT_THAT(why([](Json& d) { d["stage"] = "mended"; }), HasSubstr("stage"));
    const auto sound = [](const std::string& text) {
        return Json{{"role", "stimulus"}, {"path", "loop.wav"}, {"base64", text}};
    };
    EXPECT_THAT(why([&](Json& d) { d["files"].push_back(sound("Zm9vY")); }),
                HasSubstr("no base64"));
    const std::string too_long((std::size_t{16} << 20U) + 1, 'x');
    EXPECT_THAT(why([&](Json& d) { d["files"].push_back(sound(base64(too_long))); }),
                HasSubstr("more than 16 MiB"));
    EXPECT_THAT(why([&](Json& d) {
                    for (int n = 0; n < 16; ++n) {
                        d["files"].push_back(sound("Zm9v"));
                    }
                }),
                HasSubstr("more than 16 files"));
}

TEST(Submission, CarriesSoundFilesByteByByte) {
    Submission one = a_submission();
    one.request.files.push_back({"stimulus", "a.wav", std::string{"\0\xff\n\"", 4}});
    one.request.files.push_back({"stimulus", "b.wav", std::string(1000, '\x80')});
    const auto read = read_submission(json_line(submission_json(one)));
    ASSERT_TRUE(read) << read.error();
    ASSERT_EQ(read->request.files.size(), one.request.files.size());
    EXPECT_EQ(read->request.files[2].text, one.request.files[2].text);
    EXPECT_EQ(read->request.files[3].text, one.request.files[3].text);
}

QueueEntry an_entry() {
    QueueEntry entry;
    entry.title = "One tone";
    entry.submission = std::make_shared<const Submission>(a_submission());
    return entry;
}

TEST(RunQueue, KeepsItsEntriesOverARestartAndNeverBeginsOneTwice) {
    const Folder folder;
    {
        auto queue = RunQueue::open(folder / "queue", 10);
        ASSERT_TRUE(queue) << queue.error();
        for (int n = 0; n < 3; ++n) {
            ASSERT_TRUE(queue->add(an_entry()));
        }
        auto first = *queue->next();
        first.state = QueueState::running;
        ASSERT_TRUE(queue->update(first));
        auto second = *queue->next();
        EXPECT_EQ(second.number, 2U);
        second.state = QueueState::cancelled;
        ASSERT_TRUE(queue->update(second));
    }
    auto queue = RunQueue::open(folder / "queue", 10);
    ASSERT_TRUE(queue);
    EXPECT_EQ(queue->find("q1")->state, QueueState::interrupted);
    EXPECT_EQ(queue->find("q2")->state, QueueState::cancelled);
    EXPECT_FALSE(queue->find("q2")->submission);
    ASSERT_TRUE(queue->next());
    EXPECT_EQ(queue->next()->number, 3U);
    EXPECT_EQ(json_line(submission_json(*queue->next()->submission)),
              json_line(submission_json(a_submission())));
    EXPECT_EQ(queue->add(an_entry())->number, 4U);
}

TEST(RunQueue, KnowsHowAnEntryEndedThoughTheDiskDoesNotTakeItAndWritesItLater) {
    const Folder folder;
    auto queue = RunQueue::open(folder / "queue", 10);
    ASSERT_TRUE(queue) << queue.error();
    ASSERT_TRUE(queue->add(an_entry()));
    auto entry = *queue->next();
    entry.state = QueueState::running;
    ASSERT_TRUE(queue->update(entry));
    // In the way of what is written beside.
    fs::create_directories(folder / "queue/00000001.json.part");
    entry.state = QueueState::done;
    EXPECT_FALSE(queue->conclude(entry));
    EXPECT_TRUE(queue->owes());
    EXPECT_EQ(queue->find("q1")->state, QueueState::done);
    EXPECT_EQ(queue->waiting(), 0U);
    EXPECT_FALSE(queue->settle());
    fs::remove(folder / "queue/00000001.json.part");
    ASSERT_TRUE(queue->settle());
    EXPECT_FALSE(queue->owes());
    const auto again = RunQueue::open(folder / "queue", 10);
    ASSERT_TRUE(again);
    EXPECT_EQ(again->find("q1")->state, QueueState::done);
}

TEST(RunQueue, IsBoundedAndNamesAFileThatIsNone) {
    const Folder folder;
    fs::create_directories(folder / "queue");
    std::ofstream{folder / "queue/00000007.json"} << "{\"schema\": \"afterl";
    auto queue = RunQueue::open(folder / "queue", 1);
    ASSERT_TRUE(queue);
    ASSERT_EQ(queue->unreadable().size(), 1U);
    EXPECT_THAT(queue->unreadable()[0], HasSubstr("00000007.json"));
    ASSERT_TRUE(queue->add(an_entry()));
    const auto refused = queue->add(an_entry());
    ASSERT_FALSE(refused);
    EXPECT_THAT(refused.error(), HasSubstr("the queue is full"));
    EXPECT_TRUE(fs::exists(folder / "queue/00000007.json"));
}

TEST(ApiTarget, IsTakenApartAndNeverAPathOfAFile) {
    const auto target = api_target("/v1/runs/a%20b?serial=40%2D0117&text=x+y&most=");
    ASSERT_TRUE(target);
    EXPECT_EQ(target->segments, (std::vector<std::string>{"v1", "runs", "a b"}));
    ASSERT_EQ(target->query.size(), 3U);
    EXPECT_EQ(target->query[0].second, "40-0117");
    EXPECT_EQ(target->query[1].second, "x y");
    for (const char* wrong : {"", "v1", "/v1/../x", "/v1/%2e%2e/x", "/v1//x", "/v1/%zz", "/v1/%0",
                              "/v1/a%00b", "http://x/v1"}) {
        EXPECT_FALSE(api_target(wrong)) << wrong;
    }
}

// RFC 4648, section 10.
TEST(Base64, WritesTheTestVectorsOfItsStandardAndReadsThemBack) {
    const std::pair<const char*, const char*> vectors[]{{"", ""},
                                                        {"f", "Zg=="},
                                                        {"fo", "Zm8="},
                                                        {"foo", "Zm9v"},
                                                        {"foob", "Zm9vYg=="},
                                                        {"fooba", "Zm9vYmE="},
                                                        {"foobar", "Zm9vYmFy"}};
    for (const auto& [bytes, text] : vectors) {
        EXPECT_EQ(base64(bytes), text);
        EXPECT_EQ(from_base64(text), bytes);
    }
}

TEST(Base64, RefusesWhatIsNotToTheLetter) {
    for (const char* text :
         {"Zg", "Zg=", "Zg==\n", " Zg==", "Zh==", "Z===", "Zg==Zg==", "Zm9-", "===="}) {
        EXPECT_EQ(from_base64(text), std::nullopt) << text;
    }
}

TEST(Base64, KeepsEveryByteOverMoreThanOneBlock) {
    std::string bytes((std::size_t{3} << 20U) + 256, '\0');
    for (std::size_t n = 0; n < bytes.size(); ++n) {
        bytes[n] = static_cast<char>(n % 256);
    }
    EXPECT_EQ(from_base64(base64(bytes)), bytes);
}

}  // namespace
}  // namespace afterload::runner
