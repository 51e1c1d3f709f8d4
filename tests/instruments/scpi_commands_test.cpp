// The instrument's side of SCPI: headers and chains after SCPI-99, volume 1, 6.2, and IEEE Std
// 488.2-1992, 7.6; error numbers after SCPI-99, volume 2, 21.8.
#include "instruments/wire/scpi_commands.hpp"

#include <gtest/gtest.h>

#include <random>
#include <string>
#include <vector>

namespace afterload::instruments {
namespace {

/// Remembers what it was told.
struct Told {
    std::vector<std::vector<std::string>> calls;
    ScpiCommands commands{"Norrvik,M6,1204,1.0"};

    Told() {
        commands.add("[SOURce:]VOLTage[:LEVel]", [this](const std::vector<std::string>& given) {
            calls.push_back(given);
            return ScpiDone{};
        });
        commands.add("[SOURce:]VOLTage[:LEVel]?",
                     [](const std::vector<std::string>&) { return scpi_reply("0.5"); });
        commands.add("[SOURce:]FREQuency?",
                     [](const std::vector<std::string>&) { return scpi_reply("997"); });
        commands.add("ROUTe:CLOSe", [this](const std::vector<std::string>& given) {
            calls.push_back(given);
            return scpi_refusal(-222, "Data out of range");
        });
    }
    std::string answer(const std::string& line) {
        return commands.carry_out(line).value_or("nothing");
    }
};

TEST(ScpiCommands, TakeTheShortAndTheLongFormAndNothingBetween) {
    Told told;
    for (const char* line : {"VOLT?", "volt?", "VOLTAGE?", "SOUR:VOLT?", "source:voltage:level?",
                             ":SOUR:VOLTage:LEV?", " VOLT? "}) {
        EXPECT_EQ(told.answer(line), "0.5") << line;
    }
    for (const char* line : {"VOLTA?", "VOL?", "SOURC:VOLT?", "LEV?", "VOLT:LEV:X?"}) {
        EXPECT_EQ(told.answer(line), "nothing") << line;
        EXPECT_EQ(told.answer("SYST:ERR?"), "-113,\"Undefined header\"") << line;
    }
}

TEST(ScpiCommands, ChainsGoOnWhereTheHeaderBeforeLeftOff) {
    Told told;
    EXPECT_EQ(told.answer("SOUR:VOLT?;FREQ?"), "0.5;997");
    EXPECT_EQ(told.answer("SOUR:VOLT?;:SOUR:FREQ?;*IDN?"), "0.5;997;Norrvik,M6,1204,1.0");
    EXPECT_EQ(told.answer("VOLT 1;VOLT?"), "0.5");
    EXPECT_EQ(told.answer("SYST:ERR?"), "0,\"No error\"");
}

TEST(ScpiCommands, GiveTheirParametersAsTheyStand) {
    Told told;
    EXPECT_EQ(told.answer("VOLT 1 V , \"a;b,c\" ,(@101,102)"), "nothing");
    const std::vector<std::string> given{"1 V", "\"a;b,c\"", "(@101,102)"};
    EXPECT_EQ(told.calls, (std::vector<std::vector<std::string>>{given}));
}

TEST(ScpiCommands, KeepTwentyErrorsAndSayThatThereWereMore) {
    Told told;
    for (int i = 0; i < 30; ++i) {
        (void)told.answer("ROUT:CLOS (@9)");
    }
    for (int i = 0; i < 19; ++i) {
        EXPECT_EQ(told.answer("SYST:ERR?"), "-222,\"Data out of range\"");
    }
    EXPECT_EQ(told.answer("SYST:ERR?"), "-350,\"Queue overflow\"");
    EXPECT_EQ(told.answer("SYST:ERR?"), "0,\"No error\"");
}

TEST(ScpiCommands, CarryOutAnyLineOrQueueAnError) {
    Told told;
    std::mt19937 engine{31};
    const std::string common = "SOUR:VOLTage LEV?;:,()@\"'*IDNCLS 0123\t";
    for (int draw = 0; draw < 20000; ++draw) {
        std::string line(engine() % 60, '\0');
        for (char& letter : line) {
            letter = engine() % 5 == 0 ? static_cast<char>(engine() & 0xFFU)
                                       : common[engine() % common.size()];
        }
        (void)told.answer(line);
    }
    (void)told.answer("*CLS");
    EXPECT_EQ(told.answer("SYST:ERR?"), "0,\"No error\"");
}

}  // namespace
}  // namespace afterload::instruments
