/// Conditions that a sheet does not print beside a figure: each is asked for once, and what was
/// answered holds for the figures that follow.
#pragma once

#include "analysis/rating.hpp"
#include "runner/interview/questions.hpp"
#include "sequences/printed_figure.hpp"

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

class MissingConditions {
public:
    MissingConditions(Questions& questions, const sequences::PrintedNames& names)
        : questions_{questions}, names_{names} {}

    /// Asks for what `figure` needs before it can be compared (analysis/rating.hpp, where the usual
    /// conventions lie apart), which of several inputs it is of, and the tolerance of a nominal
    /// value. What was taken from an earlier answer, or is not stated, is told in `comments`.
    ///
    /// `earlier` are the figures that stand already: an input that was answered for one of them is
    /// asked for again where the two figures could not be told apart. False: the answers ended;
    /// what was answered is in `figure`.
    [[nodiscard]] bool complete(sequences::PrintedFigure& figure,
                                const std::vector<RatedFigure>& earlier,
                                std::vector<std::string>& comments);

private:
    bool condition(RatedFigure& rated, std::string_view key, const std::string& why,
                   std::vector<std::string>& comments);
    bool input(RatedFigure& rated, const std::vector<RatedFigure>& earlier,
               std::vector<std::string>& comments);
    bool tolerance(sequences::PrintedFigure& figure, std::vector<std::string>& comments);

    Questions& questions_;
    const sequences::PrintedNames& names_;
    std::map<std::string, std::string, std::less<>> answers_;  ///< by key; empty: not stated
};

}  // namespace afterload::runner
