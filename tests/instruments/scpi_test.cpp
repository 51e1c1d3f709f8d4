// What an instrument on a wire answers, rightly and wrongly. The forms of numbers and errors are
// those of SCPI-99, volume 1 (7.2.1 and 21.8), and IEEE Std 488.2-1992 (8.7).
#include "instruments/wire/scpi_reply.hpp"
#include "instruments/wire/scpi_session.hpp"
#include "tests/instruments/finish.hpp"
#include "tests/instruments/scripted_peer.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <random>
#include <string>
#include <utility>

namespace afterload::instruments {
namespace {

using probe::finish;
using test::ScriptedPeer;
using testing::HasSubstr;
using Kind = BenchFailure::Kind;

TEST(ScpiNumber, IsReadInEveryFormOfTheStandard) {
    const std::pair<const char*, double> forms[] = {{"1", 1.0},
                                                    {"-12", -12.0},
                                                    {"+0.5", 0.5},
                                                    {".25", 0.25},
                                                    {"3.", 3.0},
                                                    {"1.5E-03", 1e-3 * 1.5},
                                                    {"+1.500000e+03", 1500.0},
                                                    {" 2 ", 2.0},
                                                    {"7\r", 7.0}};
    for (const auto& [text, value] : forms) {
        const auto number = scpi_number(text);
        ASSERT_TRUE(number && number->reading) << text;
        EXPECT_DOUBLE_EQ(*number->reading, value) << text;
    }
}

TEST(ScpiNumber, IsNoReadingWhereTheInstrumentSaysSo) {
    for (const char* text : {"9.9E37", "9.91E37", "-9.9E37", "+9.90000000E+37"}) {
        const auto number = scpi_number(text);
        ASSERT_TRUE(number) << text;
        EXPECT_FALSE(number->reading) << text;
    }
}

TEST(ScpiNumber, IsNoneInAnythingElse) {
    for (const char* text : {"", " ", "nan", "inf", "1 V", "1,2", "0x10", "--1", "+-1", "1e", "E5",
                             "OL", "1e999", "1.2.3"}) {
        EXPECT_FALSE(scpi_number(text)) << text;
    }
}

TEST(ScpiError, IsACodeAndItsWords) {
    const auto error = scpi_error("-113,\"Undefined header\"");
    ASSERT_TRUE(error);
    EXPECT_EQ(error->code, -113);
    EXPECT_EQ(error->text, "Undefined header");
    EXPECT_EQ(scpi_error("+0,\"No error\"")->code, 0);
    EXPECT_EQ(scpi_error("0")->code, 0);
    EXPECT_FALSE(scpi_error("No error"));
    EXPECT_FALSE(scpi_error(""));
    EXPECT_FALSE(scpi_error("12;13"));
    EXPECT_EQ(scpi_error("-222,Data out of range")->text, "Data out of range");
    // Samples that come late are no error -425.
    EXPECT_FALSE(scpi_error("-425,556,-198,511"));
}

TEST(ScpiIdentity, HasFourFields) {
    const auto identity = scpi_identity("Norrvik, M6, 1204, 1.0, beta\r");
    ASSERT_TRUE(identity);
    EXPECT_EQ(identity->model, "M6");
    EXPECT_EQ(identity->firmware, "1.0, beta");
    EXPECT_FALSE(scpi_identity("Norrvik,M6"));
    EXPECT_FALSE(scpi_identity(""));
}

// No bytes whatever make the readers read past them, throw, or take long.
TEST(ScpiReply, AnyBytesAreReadOrRefused) {
    std::mt19937 engine{23};
    const std::string common = "0123456789+-.eE,\";: \r\n\tNoErr*IDN?";
    for (int draw = 0; draw < 20000; ++draw) {
        std::string text(engine() % 40, '\0');
        for (char& letter : text) {
            letter = engine() % 4 == 0 ? static_cast<char>(engine() & 0xFFU)
                                       : common[engine() % common.size()];
        }
        const auto number = scpi_number(text);
        EXPECT_TRUE(!number || !number->reading || std::isfinite(*number->reading));
        (void)scpi_error(text);
        (void)scpi_identity(text);
        EXPECT_LE(shown(text).size(), 4 * text.size() + 4);
    }
}

constexpr const char* peers_identity = "Norrvik,M6,1204,1.0";

/// What a right instrument says to `line`; empty: nothing.
std::string right_answer(const std::string& line) {
    if (line == "*IDN?") {
        return std::string{peers_identity} + "\n";
    }
    if (line == "SYST:ERR?") {
        return "0,\"No error\"\n";
    }
    if (line == "MEAS:VOLT:DC?") {
        return "+1.250000E-02\r\n";
    }
    return "";
}

bool rightly(const std::string& line, const ScriptedPeer& peer) {
    peer.say(right_answer(line));
    return true;
}

struct Outcome {
    BenchResult<double> first;
    BenchResult<double> second;
    double seconds = 0.0;
};

/// Opens a session, asks for two readings, and says how long that took.
Task<Outcome> two_readings(std::string address, std::string pinned, Seconds deadline) {
    const auto begun = std::chrono::steady_clock::now();
    Outcome outcome{0.0, 0.0, 0.0};
    auto line = co_await open_line(std::move(address), deadline);
    if (!line) {
        outcome.first = tl::unexpected<BenchFailure>(line.error());
        co_return outcome;
    }
    ScpiSettings settings{"bench meter", std::move(pinned), deadline, true};
    ScpiSession session{*std::move(line), std::move(settings)};
    const auto opened = co_await session.open();
    if (!opened) {
        outcome.first = tl::unexpected<BenchFailure>(opened.error());
        co_return outcome;
    }
    std::string question = "MEAS:VOLT:DC?";
    outcome.first = co_await session.number(question);
    outcome.seconds =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
    outcome.second = co_await session.number(std::move(question));
    co_return outcome;
}

Outcome talk(ScriptedPeer::Script script, const char* pinned = "") {
    const ScriptedPeer peer{std::move(script)};
    return finish(two_readings(peer.address(), pinned, Seconds{0.4}));
}

void expect_failure(const BenchResult<double>& result, Kind kind, const char* words) {
    ASSERT_FALSE(result);
    EXPECT_EQ(name(result.error().kind), name(kind)) << text(result.error());
    EXPECT_THAT(text(result.error()), HasSubstr(words));
    EXPECT_THAT(text(result.error()), HasSubstr("bench meter"));
}

TEST(ScpiSession, ReadsANumberAndTheErrorQueueBehindIt) {
    const Outcome outcome = talk(rightly);
    ASSERT_TRUE(outcome.first) << text(outcome.first.error());
    EXPECT_DOUBLE_EQ(*outcome.first, 0.0125);
    EXPECT_TRUE(outcome.second);
}

TEST(ScpiSession, ReadsAReplyThatComesInPieces) {
    const Outcome outcome = talk([](const std::string& line, const ScriptedPeer& peer) {
        for (const char letter : right_answer(line)) {
            peer.say(std::string{letter});
            ScriptedPeer::wait(0.002);
        }
        return true;
    });
    ASSERT_TRUE(outcome.first) << text(outcome.first.error());
    EXPECT_DOUBLE_EQ(*outcome.first, 0.0125);
}

TEST(ScpiSession, NamesASilentInstrumentWithinItsDeadline) {
    const Outcome outcome = talk([](const std::string& line, const ScriptedPeer& peer) {
        return line.starts_with("MEAS") || rightly(line, peer);
    });
    expect_failure(outcome.first, Kind::no_reply, "nothing came");
    EXPECT_LT(outcome.seconds, 1.0);
}

TEST(ScpiSession, NeverTakesALateReplyForTheNextAnswer) {
    int asked = 0;
    const Outcome outcome = talk([&asked](const std::string& line, const ScriptedPeer& peer) {
        if (line.starts_with("MEAS")) {
            ++asked;
            ScriptedPeer::wait(asked == 1 ? 0.5 : 0.0);
            peer.say(asked == 1 ? "9.999\n" : "+1.250000E-02\n");
            return true;
        }
        return rightly(line, peer);
    });
    expect_failure(outcome.first, Kind::no_reply, "nothing came");
    if (outcome.second) {
        EXPECT_DOUBLE_EQ(*outcome.second, 0.0125);
    }
}

TEST(ScpiSession, NamesWhatWasNotAskedFor) {
    bool asked = false;
    const Outcome outcome = talk([&asked](const std::string& line, const ScriptedPeer& peer) {
        rightly(line, peer);
        if (line == "SYST:ERR?" && !asked) {
            asked = true;
            peer.say("9.999\n");
        }
        return true;
    });
    EXPECT_TRUE(outcome.first);
    // Seen before the next question, or by the error queue that then answers out of turn.
    ASSERT_FALSE(outcome.second);
    EXPECT_EQ(outcome.second.error().kind, Kind::wrong_reply) << text(outcome.second.error());
}

TEST(ScpiSession, NamesGarbledWrongAndEmptyReplies) {
    const std::pair<const char*, const char*> replies[] = {{"\x01\xff!2\n", "garbled"},
                                                           {"hello\n", "“hello” is no number"},
                                                           {"\n", "“” is no number"},
                                                           {"9.91E37\n", "no reading"}};
    for (const auto& [reply, words] : replies) {
        const std::string said = reply;
        const Outcome outcome = talk([&said](const std::string& line, const ScriptedPeer& peer) {
            if (line.starts_with("MEAS")) {
                peer.say(said);
                return true;
            }
            return rightly(line, peer);
        });
        ASSERT_FALSE(outcome.first) << words;
        EXPECT_THAT(text(outcome.first.error()), HasSubstr(words));
    }
}

TEST(ScpiSession, NamesAFloodAndAReplyWithoutAnEnd) {
    for (const char* piece : {"1.0\n", "1111111111"}) {
        const Outcome outcome = talk([&](const std::string& line, const ScriptedPeer& peer) {
            if (!line.starts_with("MEAS")) {
                return rightly(line, peer);
            }
            std::string block;
            for (int i = 0; i < 100; ++i) {
                block += piece;
            }
            for (int i = 0; i < 200 && !peer.over(); ++i) {
                peer.say(block);
            }
            return true;
        });
        ASSERT_FALSE(outcome.first) << piece;
        EXPECT_EQ(outcome.first.error().kind, Kind::wrong_reply) << text(outcome.first.error());
        EXPECT_LT(outcome.seconds, 2.0);
    }
}

TEST(ScpiSession, NamesAConnectionThatIsClosed) {
    const Outcome outcome = talk([](const std::string& line, const ScriptedPeer& peer) {
        return !line.starts_with("MEAS") && rightly(line, peer);
    });
    expect_failure(outcome.first, Kind::lost, "closed the connection");
}

TEST(ScpiSession, SaysWhatTheInstrumentPutIntoItsErrorQueue) {
    bool told = false;
    const Outcome outcome = talk([&told](const std::string& line, const ScriptedPeer& peer) {
        if (line == "SYST:ERR?" && !told) {
            told = true;
            peer.say("-113,\"Undefined header\"\n");
            return true;
        }
        return rightly(line, peer);
    });
    expect_failure(outcome.first, Kind::refused, "error -113: Undefined header");
    EXPECT_TRUE(outcome.second);
}

TEST(ScpiSession, RefusesAnotherInstrumentThanTheBenchFileNames) {
    EXPECT_TRUE(talk(rightly, "Norrvik,M6,1204").first);
    expect_failure(talk(rightly, "Norrvik,M6,9999").first, Kind::wrong_reply,
                   "the bench file says “Norrvik,M6,9999”");
}

TEST(Line, SaysThatNobodyAnswersOrThatTheAddressIsNone) {
    std::string port;
    {
        const ScriptedPeer peer{rightly};
        port = peer.address();
    }
    const auto none = finish(two_readings(port, "", Seconds{0.4}));
    ASSERT_FALSE(none.first);
    EXPECT_EQ(none.first.error().kind, Kind::lost);
    for (const char* address : {"", "tcp://", "tcp://host", "tcp://host:0", "tcp://host:70000",
                                "udp://host:1", "serial:", "serial:/dev/x?baud=fast"}) {
        const auto wrong = finish(two_readings(address, "", Seconds{0.4}));
        ASSERT_FALSE(wrong.first) << address;
        EXPECT_EQ(wrong.first.error().kind, Kind::refused) << address;
    }
}

}  // namespace
}  // namespace afterload::instruments
