#include "sequences/combinations.hpp"

#include <utility>

namespace afterload::sequences {
namespace {

struct Loaded {
    bool open = false;
    std::optional<Ohms> load;
};

template <class T, class From>
std::vector<T> or_one(const std::vector<From>& list, T otherwise) {
    return list.empty() ? std::vector<T>{std::move(otherwise)}
                        : std::vector<T>(list.begin(), list.end());
}

}  // namespace

std::vector<Combination> combinations(const Step& step) {
    const Repetition& each = step.for_each;
    std::vector<Loaded> loads;
    loads.reserve(each.loads.size());
    for (const auto& load : each.loads) {
        loads.push_back({!load.has_value(), load});
    }
    std::vector<Combination> all;
    for (const auto& tone_controls : or_one<std::string>(each.tone_controls, {})) {
        for (const auto& volume : or_one<std::string>(each.volumes, {})) {
            for (const Loaded& loaded : or_one<Loaded>(loads, {false, step.load})) {
                for (const Channels driven : or_one<Channels>(each.channels, step.driven)) {
                    for (const auto& level :
                         or_one<std::optional<StepLevel>>(each.levels, step.level)) {
                        for (const auto& frequency :
                             or_one<std::optional<Hertz>>(each.frequencies, step.frequency)) {
                            all.push_back({driven, level, frequency, loaded.open, loaded.load,
                                           volume, tone_controls});
                        }
                    }
                }
            }
        }
    }
    return all;
}

}  // namespace afterload::sequences
