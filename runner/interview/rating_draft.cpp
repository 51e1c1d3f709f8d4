#include "runner/interview/rating_draft.hpp"

#include "runner/interview/new_file.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/yaml_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <utility>

namespace afterload::runner {
namespace {

constexpr std::string_view no_figures = "figures: []\n";
constexpr std::string_view some_figures = "figures:\n";
constexpr std::string_view any_figure = "  - {figure: thd, at_most: 1 %, source: page 1}\n";

bool of_an_id(char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_';
}

/// Does `id` stand in `text` as a word of its own?
bool names_id(const std::string& text, const std::string& id) {
    for (std::size_t at = text.find(id); at != std::string::npos; at = text.find(id, at + 1)) {
        const std::size_t end = at + id.size();
        if ((at == 0 || !of_an_id(text[at - 1])) && (end == text.size() || !of_an_id(text[end]))) {
            return true;
        }
    }
    return false;
}

}  // namespace

std::optional<RatingStart> rating_start(const std::string& text) {
    RatingStart start{without_draft_line(text), {}};
    if (!start.text.ends_with('\n')) {
        start.text += '\n';
    }
    const bool empty = start.text.ends_with("\n" + std::string{no_figures});
    if (empty) {
        start.text.replace(start.text.size() - no_figures.size(), no_figures.size(), some_figures);
    }
    const auto longer = sequences::read_rating(start.text + std::string{any_figure}, "sheet");
    auto sheet = empty ? longer : sequences::read_rating(start.text, "sheet");
    if (!sheet || !longer || !sheet->unit) {
        return std::nullopt;
    }
    start.sheet = *std::move(sheet);
    if (empty) {
        start.sheet.figures.clear();
    }
    return start.sheet.figures.size() + 1 == longer->figures.size() ? std::optional{start}
                                                                    : std::nullopt;
}

std::string why_not(RatedFigure rated) {
    rated.id = "figure";
    rated.source = "page 1";
    if (!rated.limit.at_least && !rated.limit.at_most) {
        rated.limit.at_most = rated.limit.nominal;
    }
    UnitDescription unit;
    unit.maker = unit.model = "any";
    unit.inputs = unit.outputs = {"any"};
    const auto sheet = sequences::read_rating(
        fmt::format("afterload: rating/1\nunit:\n{}{}{}", sequences::unit_text(unit), some_figures,
                    sequences::rating_text({rated, {}})),
        "figure");
    if (sheet) {
        return {};
    }
    const sequences::Mistake& mistake = sheet.error().mistakes.front();
    return mistake.what + (mistake.advice.empty() ? "" : "; " + mistake.advice);
}

void RatingDraft::begin_with(RatingStart start) {
    unit = *start.sheet.unit;
    const auto known = afterload::contradictions(start.sheet);
    kept_.insert(known.begin(), known.end());
    start_ = std::move(start);
}

const RatingDraft::Item& RatingDraft::add(FigureKind kind, const sequences::PrintedFigure& figure,
                                          std::vector<std::string> comments) {
    items_.push_back({kind, {}});
    RatedFigure rated = figure.rated;
    rated.id = id_for(rated);
    items_.back().entries.push_back({rated, std::move(comments)});
    if (figure.upper_end) {
        rated.limit = *figure.upper_end;
        rated.id = id_for(rated);
        items_.back().entries.push_back({std::move(rated), {}});
    }
    return items_.back();
}

void RatingDraft::remove(std::size_t item) {
    items_.erase(items_.begin() + static_cast<std::ptrdiff_t>(item));
}

std::vector<RatedFigure> RatingDraft::typed() const {
    std::vector<RatedFigure> out;
    for (const Item& item : items_) {
        out.push_back(item.entries.front().rated);
    }
    return out;
}

std::vector<std::string> RatingDraft::contradictions() const {
    RatingSheet sheet = start_ ? start_->sheet : RatingSheet{};
    for (const Item& item : items_) {
        for (const sequences::RatingEntry& entry : item.entries) {
            sheet.figures.push_back(entry.rated);
        }
    }
    std::vector<std::string> found = afterload::contradictions(sheet);
    found.erase(std::remove_if(found.begin(), found.end(),
                               [&](const std::string& each) { return kept_.contains(each); }),
                found.end());
    return found;
}

void RatingDraft::keep_contradictions() {
    for (const std::string& each : contradictions()) {
        kept_.insert(each);
        items_.back().entries.front().comments.push_back("kept, though at odds: " + each);
    }
}

std::vector<std::size_t> RatingDraft::named_in(const std::vector<std::string>& found) const {
    std::vector<std::size_t> named;
    for (std::size_t i = 0; i + 1 < items_.size(); ++i) {
        const std::string& id = items_[i].entries.front().rated.id;
        if (std::any_of(found.begin(), found.end(),
                        [&](const std::string& each) { return names_id(each, id); })) {
            named.push_back(i);
        }
    }
    return named;
}

std::string RatingDraft::id_for(const RatedFigure& rated) const {
    std::set<std::string> taken;
    if (start_) {
        for (const RatedFigure& each : start_->sheet.figures) {
            taken.insert(each.id);
        }
    }
    for (const Item& item : items_) {
        for (const sequences::RatingEntry& entry : item.entries) {
            taken.insert(entry.rated.id);
        }
    }
    const auto plain = [](const std::string& word) {
        return !word.empty() && word.size() <= 20 &&
               std::all_of(word.begin(), word.end(), of_an_id);
    };
    std::string base{name(rated.figure)};
    for (const auto& word : {rated.conditions.output, rated.conditions.input}) {
        if (word && plain(*word)) {
            base = *word + "_" + base;
        }
    }
    std::string id = base;
    for (int i = 2; taken.contains(id); ++i) {
        id = fmt::format("{}_{}", base, i);
    }
    return id;
}

std::size_t RatingDraft::figures() const {
    std::size_t count = start_ ? start_->sheet.figures.size() : 0;
    for (const Item& item : items_) {
        count += item.entries.size();
    }
    return count;
}

std::string RatingDraft::text(const std::string& today, const std::string& stopped_at) const {
    if (unit.maker.empty()) {
        return {};
    }
    std::string entries;
    for (const Item& item : items_) {
        for (const sequences::RatingEntry& entry : item.entries) {
            entries += "\n" + sequences::rating_text(entry);
        }
    }
    std::string notes;
    for (const std::string& note : notes_) {
        notes += sequences::yaml_comment(note, 2);
    }
    std::string out = stopped_at.empty() ? "" : draft_line(stopped_at);
    if (start_) {
        out += start_->text;
        if (!entries.empty()) {
            out += "\n" + sequences::yaml_comment("Added on " + today + ".", 2) + entries.substr(1);
        }
        if (figures() == 0) {
            out.replace(out.size() - some_figures.size(), some_figures.size(),
                        notes + std::string{no_figures});
            return out;
        }
        return out + notes;
    }
    out += fmt::format(
        "{}# Above each figure stands what the sheet prints, and what it does not print.\n"
        "# Rated power is mains inside and hot loads outside: local codes and licensed practice\n"
        "# come first.\n"
        "afterload: rating/1\ntitle: {}\nunit:\n{}{}\n",
        sequences::yaml_comment("Asked for by afterload new rating on " + today + "."),
        sequences::yaml_value(unit.maker + " " + unit.model + " service sheet"),
        terminals_known ? ""
                        : "  # The output terminals are not known: bridged is the safe side.\n",
        sequences::unit_text(unit));
    if (entries.empty()) {
        return out + notes + std::string{no_figures};
    }
    return out + std::string{some_figures} + entries.substr(1) + notes;
}

}  // namespace afterload::runner
