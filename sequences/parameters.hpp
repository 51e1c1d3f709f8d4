/// Parameters of a sequence: `${name}` in its steps replaced by text.
#pragma once

#include "sequences/reading.hpp"
#include "sequences/sequence.hpp"
#include "sequences/yaml.hpp"

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

/// Text by name of a parameter.
using ParameterValues = std::map<std::string, std::string, std::less<>>;

/// Reads the mapping `parameters`: a name with its default, or with `default` and `help`.
[[nodiscard]] std::vector<Parameter> read_parameters(Reading& reading, const Node& node);

/// Replaces `${name}` in every scalar below `node`. What replaces is not looked through again, so
/// references do not nest and cannot run in circles. A name that is not there, an open brace and a
/// text that grows beyond 4000 bytes are mistakes.
void substitute(Reading& reading, Node& node, const ParameterValues& values);

/// Keys of a parameter, for the schema's test.
[[nodiscard]] KeyList parameter_key_list();

}  // namespace afterload::sequences
