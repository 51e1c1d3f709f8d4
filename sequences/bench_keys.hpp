/// The keys of a bench file, a part of it to a source file: what is simulated, what stands on a
/// wire. bench_reader.cpp puts them together.
#pragma once

#include "sequences/bench_file.hpp"
#include "sequences/reading.hpp"

#include <optional>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::sequences {

inline constexpr Range ratio_range{1e-9, 1.0};       // -180 dB to 0 dB
inline constexpr Range uncertainty_range{0.0, 0.5};  // relative, k = 1
inline constexpr Range volts_range{1e-9, 1000.0};
inline constexpr Range peak_range{1e-3, 1000.0};
inline constexpr Range load_range{0.1, 1e6};
inline constexpr Range watts_range{1e-3, 1e4};
inline constexpr Range celsius_range{-20.0, 400.0};
inline constexpr Range ppm_range{-1e-3, 1e-3};

[[nodiscard]] std::optional<AmplitudeRatio> ratio_in(Reading& reading, const Node& node,
                                                     std::string_view noun);

// Reads each item of a list by its table; a single mapping is not taken for a list.
template <class T>
void read_each(Reading& reading, const Node& node, std::string_view noun, const KeyTable<T>& table,
               std::vector<T>& into) {
    if (!reading.is_list(node, noun)) {
        return;
    }
    for (const Node& item : node.items) {
        T one;
        if (read_mapping(reading, item, table, one)) {
            into.push_back(std::move(one));
        }
    }
}

struct Seeds {
    std::uint64_t unit = 1;
    std::uint64_t rig = 1;
    std::uint64_t run = 1;
};

// A fault is kept with the node of its name, which is held against the known names afterwards.
struct FaultText {
    FaultEntry entry;
    const Node* name = nullptr;
};

using LeftWrong = std::vector<LeftWrongEntry>;

struct SimulationText {
    SimulationEntry entry;
    std::vector<FaultText> faults;
};

[[nodiscard]] const KeyTable<Seeds>& seed_keys();
[[nodiscard]] const KeyTable<FaultText>& fault_keys();
[[nodiscard]] const KeyTable<SimulationEntry>& rig_keys();
[[nodiscard]] const KeyTable<SimulationText>& simulation_keys();
[[nodiscard]] const KeyTable<LeftWrong>& left_wrong_keys();

[[nodiscard]] const KeyTable<OwnDistortion>& own_distortion_keys();

[[nodiscard]] const KeyTable<CommandTexts>& command_keys();
[[nodiscard]] const KeyTable<WireEntry>& wire_keys();
[[nodiscard]] const KeyTable<ContactorEntry>& contactor_keys();

/// Every instrument that the file names must be one of its own; a relay needs its number and its
/// box.
void check_wire(Reading& reading, const Node& root, const BenchFile& bench);

}  // namespace afterload::sequences
