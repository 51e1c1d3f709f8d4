#include "sequences/utf8.hpp"

#include <gtest/gtest.h>

namespace afterload::sequences {
namespace {

// Sources: RFC 3629, sections 3 and 4.
TEST(Utf8, ReadsOneToFourBytes) {
    EXPECT_EQ(decode_utf8("A").code, U'A');
    EXPECT_EQ(decode_utf8("µ").code, U'\u00b5');
    EXPECT_EQ(decode_utf8("Ω").code, U'\u03a9');
    EXPECT_EQ(decode_utf8("…").bytes, 3U);
    EXPECT_EQ(decode_utf8("\xf0\x9f\x94\x8a").code, U'\U0001f50a');
}

TEST(Utf8, RefusesOverlongFormsSurrogatesAndWhatLiesBeyondUnicode) {
    EXPECT_FALSE(decode_utf8("\xc0\x80").valid);          // NUL in two bytes
    EXPECT_FALSE(decode_utf8("\xe0\x80\xaf").valid);      // slash in three
    EXPECT_FALSE(decode_utf8("\xed\xa0\x80").valid);      // U+D800
    EXPECT_FALSE(decode_utf8("\xf4\x90\x80\x80").valid);  // U+110000
    EXPECT_FALSE(decode_utf8("\xff").valid);
    EXPECT_FALSE(decode_utf8("\x80").valid);
}

TEST(Utf8, RefusesACharacterThatIsCutOff) {
    EXPECT_FALSE(decode_utf8("\xc2").valid);
    EXPECT_FALSE(decode_utf8("\xe2\x80").valid);
    EXPECT_FALSE(decode_utf8("\xe2\x80 ").valid);
}

TEST(Utf8, CountsCharactersAndNotBytes) {
    EXPECT_EQ(characters("8 Ω"), 3);
    EXPECT_EQ(characters("\xff\xff"), 2);
    EXPECT_EQ(characters(""), 0);
}

}  // namespace
}  // namespace afterload::sequences
