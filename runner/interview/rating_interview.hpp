/// A rating sheet by asking, in the order in which service sheets print their figures.
#pragma once

#include "runner/interview/missing_conditions.hpp"
#include "runner/interview/new_file.hpp"
#include "runner/interview/questions.hpp"
#include "runner/interview/rating_draft.hpp"
#include "runner/interview/rating_library.hpp"
#include "sequences/printed_figure.hpp"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

class RatingInterview {
public:
    using Search = std::function<LibrarySearch(const std::string& maker, const std::string& model)>;

    RatingInterview(Questions& questions, std::string today)
        : questions_{questions}, today_{std::move(today)}, missing_{questions, names_} {}

    /// Asks for the unit, offers what `search` finds of it, and asks for its figures. With `start`
    /// the unit and its first figures are those of that sheet.
    [[nodiscard]] AskedFile ask(const Search& search, std::optional<RatingStart> start);

private:
    enum class Answer { taken, skipped, ended };

    bool maker_and_model();
    bool offer(const LibrarySearch& found, bool& anew);
    bool describe_unit();
    /// A quantity of the mains, in its own unit; may be skipped.
    bool mains(const std::string& question, const std::string& example,
               sequences::Dimension dimension, double low, double high,
               std::optional<double>& into);
    bool words_into(const std::string& question, const std::string& usual,
                    std::vector<std::string>& into);
    bool page();
    bool figures();
    bool further_figures();

    Answer figure(FigureKind kind, const std::string& question);
    bool keep(FigureKind kind, const std::string& printed, sequences::PrintedFigure understood);
    bool at_odds();
    void take_back();
    void stop(const std::string& question);
    [[nodiscard]] AskedFile file() const;

    Questions& questions_;
    std::string today_;
    sequences::PrintedNames names_;
    MissingConditions missing_;
    RatingDraft draft_;
    std::optional<LibrarySheet> as_it_is_;
    std::string source_;
    std::string stopped_at_;
};

}  // namespace afterload::runner
