/// Questions in plain words, each with an answer that Enter takes.
#pragma once

#include "sequences/quantity_text.hpp"

#include <functional>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

class Questions {
public:
    Questions(std::istream& in, std::ostream& out) : in_{in}, out_{out} {}

    /// Asks until `fits` takes the answer (it says why not, or nothing). Empty: no answer can come
    /// any more.
    [[nodiscard]] std::optional<std::string> ask(
        const std::string& question, const std::string& usual,
        const std::function<std::string(const std::string&)>& fits);

    /// A quantity with its unit, between `low` and `high` in SI units; as it was written.
    [[nodiscard]] std::optional<std::string> quantity(const std::string& question,
                                                      const std::string& usual,
                                                      sequences::Dimension dimension, double low,
                                                      double high);
    [[nodiscard]] std::optional<bool> yes(const std::string& question, bool usual);
    /// One of `choices`, by its number from 1.
    [[nodiscard]] std::optional<std::size_t> choice(const std::string& question,
                                                    const std::vector<std::string>& choices);

private:
    std::istream& in_;
    std::ostream& out_;
};

}  // namespace afterload::runner
