#include "sequences/sequence_reader.hpp"

#include <gtest/gtest.h>

#include <string>

namespace afterload::sequences {
namespace {

constexpr std::string_view sequence_text = R"(afterload: sequence/1
title: A test
cautions: [mains, Mind the cat]
needs:
  rated: [output_power]
parameters:
  level: {default: 1 W, help: of the tone}
  tone: 997 Hz
steps:
  - name: offset
    prompt:
      title: Controls
      controls: {volume: maximum, speakers: A}
      checks: [loudness off]
      cautions: [local_code]
    meters:
      - {reads: dc_offset, gate: true}
      - mains_voltage
  - name: tone
    input: line
    path: direct
    range: high
    driven: left
    signal: tone
    frequency: ${tone}
    level: ${level}
    settle: 0.5 s
    record: 2 s
    dwell: 1 min
    figures:
      - thd
      - {figure: thd_plus_noise, bandwidth: 20 Hz..20 kHz, scored: false, rated: thd_1w}
    stop_on: fail
  - name: power
    signal: tone
    for_each:
      channels: both
      frequencies: [19.7 Hz, "${tone}"]
    level: {distortion: as rated, up_to: rated + 1 dB}
    figures: [output_power]
)";

Sequence read(std::string_view text, const Overrides& overrides = {}) {
    auto sequence = read_sequence(text, "folder/a-test.sequence.yaml", overrides);
    EXPECT_TRUE(sequence.has_value())
        << (sequence ? "" : afterload::sequences::text(sequence.error()));
    return sequence.value_or(Sequence{});
}

TEST(SequenceReader, ReadsStepsInOrder) {
    const Sequence sequence = read(sequence_text);
    EXPECT_EQ(sequence.name, "a-test");
    EXPECT_EQ(sequence.path, "folder/a-test.sequence.yaml");
    EXPECT_EQ(sequence.title, "A test");
    EXPECT_EQ(sequence.needs_rated, std::vector{FigureKind::output_power});
    ASSERT_EQ(sequence.steps.size(), 3U);
    const Step& offset = sequence.steps[0];
    ASSERT_TRUE(offset.prompt.has_value());
    EXPECT_EQ(offset.prompt->controls[1], (std::pair<std::string, std::string>{"speakers", "A"}));
    EXPECT_EQ(offset.prompt->checks, std::vector<std::string>{"loudness off"});
    ASSERT_EQ(offset.meters.size(), 2U);
    EXPECT_TRUE(offset.meters[0].gate);
    EXPECT_EQ(offset.meters[1].quantity, "mains_voltage");
    EXPECT_FALSE(offset.signal.has_value());
    const Step& tone = sequence.steps[1];
    EXPECT_EQ(tone.signal, Signal::tone);
    EXPECT_EQ(tone.frequency, Hertz{997.0});
    EXPECT_EQ(std::get<LevelTarget>(tone.level.value_or(LevelTarget{})),
              (LevelTarget{LevelTarget::Kind::output_power, 1.0}));
    EXPECT_EQ(tone.driven, Channels::left);
    EXPECT_EQ(tone.settle, Seconds{0.5});
    EXPECT_EQ(tone.record, Seconds{2.0});
    EXPECT_EQ(tone.dwell, Seconds{60.0});
    EXPECT_TRUE(tone.stop_on_fail);
    ASSERT_EQ(tone.figures.size(), 2U);
    EXPECT_EQ(tone.figures[0].figure, FigureKind::thd);
    EXPECT_TRUE(tone.figures[0].scored);
    EXPECT_FALSE(tone.figures[1].scored);
    EXPECT_EQ(tone.figures[1].rated, "thd_1w");
    EXPECT_EQ(tone.figures[1].bandwidth, (Band{Hertz{20.0}, Hertz{20e3}}));
    const Step& power = sequence.steps[2];
    EXPECT_EQ(power.for_each.channels, std::vector{Channels::both});
    EXPECT_EQ(power.for_each.frequencies, (std::vector{Hertz{19.7}, Hertz{997.0}}));
    ASSERT_TRUE(power.level.has_value());
    const auto& limited = std::get<DistortionLimited>(*power.level);
    EXPECT_FALSE(limited.thd.has_value());
    EXPECT_EQ(limited.up_to.kind, LevelTarget::Kind::rated_fraction);
}

TEST(SequenceReader, KeepsThePlacesOfStepsAndTheirValues) {
    const Sequence sequence = read(sequence_text);
    EXPECT_EQ(sequence.steps[1].place, (Place{19, 5}));
    EXPECT_EQ(sequence.steps[1].places.at("level"), (Place{26, 12}));
    EXPECT_EQ(sequence.steps[1].figures[1].place, (Place{32, 9}));
    EXPECT_EQ(sequence.text, sequence_text);
}

TEST(SequenceReader, OverridesReplaceDefaults) {
    const Sequence sequence = read(sequence_text, {{"level", "0.25 W"}, {"tone", "5997 Hz"}});
    EXPECT_EQ(std::get<LevelTarget>(sequence.steps[1].level.value_or(LevelTarget{})).value, 0.25);
    EXPECT_EQ(sequence.steps[1].frequency, Hertz{5997.0});
    EXPECT_EQ(sequence.steps[2].for_each.frequencies[1], Hertz{5997.0});
}

TEST(SequenceReader, OverrideIsReadLikeTheTextItReplaces) {
    const auto sequence = read_sequence(sequence_text, "a", {{"level", "8"}});
    ASSERT_FALSE(sequence.has_value());
    ASSERT_EQ(sequence.error().count(), 1U);
    EXPECT_EQ(sequence.error().mistakes[0].what,
              "8 has no unit: is it a level in W? (${level} is 8)");
    EXPECT_EQ(sequence.error().mistakes[0].place, (Place{26, 12}));
}

TEST(SequenceReader, OverrideOfWhatIsNotThereNamesTheNearest) {
    const auto sequence = read_sequence(sequence_text, "a.yaml", {{"levle", "1 W"}});
    ASSERT_FALSE(sequence.has_value());
    EXPECT_EQ(text(sequence.error()),
              "a.yaml: --set levle: no parameter of this sequence has that name; nearest: "
              "level\n");
}

TEST(SequenceReader, ReferencesDoNotNestAndCannotGrowForEver) {
    const auto nested = read_sequence(sequence_text, "a", {{"level", "${tone}"}});
    ASSERT_FALSE(nested.has_value());
    EXPECT_NE(nested.error().mistakes[0].what.find("is not a level"), std::string::npos);
    std::string bomb =
        "afterload: sequence/1\ntitle: a\nparameters: {x: " + std::string(3900, 'a') +
        "}\nsteps: [{name: '";
    for (int i = 0; i < 20000; ++i) {
        bomb += "${x}";
    }
    bomb += "'}]\n";
    const auto grown = read_sequence(bomb, "a");
    ASSERT_FALSE(grown.has_value());
    EXPECT_NE(grown.error().mistakes[0].what.find("grows too long"), std::string::npos);
}

TEST(SequenceReader, TextOfAnOverrideIsEscapedInMistakes) {
    const auto sequence = read_sequence(sequence_text, "a", {{"level", "\x1b[2J"}});
    ASSERT_FALSE(sequence.has_value());
    EXPECT_EQ(text(sequence.error()).find('\x1b'), std::string::npos);
}

TEST(Caution, NamesOfShippedOnesGiveTheirTextAndOwnWordsThemselves) {
    EXPECT_NE(caution_text("hot_load").find("hot"), std::string::npos);
    EXPECT_NE(caution_text("local_code").find("electrical code"), std::string::npos);
    EXPECT_EQ(caution_text("Mind the cat"), "Mind the cat");
    for (const Caution& caution : shipped_cautions()) {
        EXPECT_EQ(caution.name.find(' '), std::string_view::npos) << caution.name;
        EXPECT_GT(caution.text.size(), 30U) << caution.name;
    }
}

}  // namespace
}  // namespace afterload::sequences
