#include "instruments/failure.hpp"

#include <cstdio>

namespace afterload::instruments {

std::string_view name(BenchFailure::Kind kind) {
    switch (kind) {
        case BenchFailure::Kind::no_reply:
            return "no_reply";
        case BenchFailure::Kind::wrong_reply:
            return "wrong_reply";
        case BenchFailure::Kind::refused:
            return "refused";
        case BenchFailure::Kind::lost:
            return "lost";
    }
    return "no_reply";
}

std::string text(const BenchFailure& failure) {
    std::string text = failure.instrument + ": asked to " + failure.asked + ": " + failure.answered;
    if (failure.after > Seconds{0.0}) {
        char after[32];
        std::snprintf(after, sizeof after, " after %.3g s", failure.after.in<Seconds>());
        text += after;
    }
    return text;
}

}  // namespace afterload::instruments
