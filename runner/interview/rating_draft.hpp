/// A rating sheet while it is being asked for: the unit, its figures with what is said of them, and
/// the text that they make at any moment.
#pragma once

#include "analysis/rating.hpp"
#include "sequences/printed_figure.hpp"
#include "sequences/rating_text.hpp"

#include <cstddef>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

/// A sheet that is gone on with: its text stays as it is, and figures are added at its end.
struct RatingStart {
    std::string text;
    RatingSheet sheet;
};

/// Can figures be added to this sheet? Those of a draft may still be missing; otherwise its figures
/// must stand last.
[[nodiscard]] std::optional<RatingStart> rating_start(const std::string& text);

/// Why read_rating() would not take this figure, in one line; empty where it does. A nominal value
/// that has no tolerance yet is looked at without one.
[[nodiscard]] std::string why_not(RatedFigure rated);

class RatingDraft {
public:
    /// A figure as it was typed: two entries where it has two ends.
    struct Item {
        FigureKind kind = FigureKind::output_power;
        std::vector<sequences::RatingEntry> entries;
    };

    UnitDescription unit;
    bool terminals_known = false;  ///< else the text says that bridged is the safe side

    RatingDraft() { unit.bridged = true; }

    /// The unit and the first figures are those of `start`, and so are their contradictions.
    void begin_with(RatingStart start);

    /// Adds a figure, whose id is made here, with the comments that stand above it.
    const Item& add(FigureKind kind, const sequences::PrintedFigure& figure,
                    std::vector<std::string> comments);
    /// Adds what is no figure yet, as a comment at the end.
    void add_note(std::string note) { notes_.push_back(std::move(note)); }
    void remove(std::size_t item);
    [[nodiscard]] const std::vector<Item>& items() const { return items_; }
    /// The first rated figure of every item.
    [[nodiscard]] std::vector<RatedFigure> typed() const;

    /// Contradictions (analysis/rating.hpp) that nobody has kept yet.
    [[nodiscard]] std::vector<std::string> contradictions() const;
    /// They stay; the last item says so.
    void keep_contradictions();
    /// Earlier items that a contradiction names.
    [[nodiscard]] std::vector<std::size_t> named_in(const std::vector<std::string>& found) const;

    [[nodiscard]] std::size_t figures() const;
    /// The file; a draft where `stopped_at` names the question at which the answers ended. Empty
    /// where nothing was given.
    [[nodiscard]] std::string text(const std::string& today, const std::string& stopped_at) const;

private:
    [[nodiscard]] std::string id_for(const RatedFigure& rated) const;

    std::optional<RatingStart> start_;
    std::vector<Item> items_;
    std::vector<std::string> notes_;
    std::set<std::string> kept_;
};

}  // namespace afterload::runner
