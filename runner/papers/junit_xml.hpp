/// A run as JUnit XML, for programs that show the results of tests: a suite with a case for every
/// scored figure.
///
/// Passes, also conditional ones, pass; a fail is a failure with its reason; what is open
/// (conditional fail, not resolvable, not comparable) is skipped with its reason, for it is
/// neither. What stopped the run is an error of the suite's own case.
///
/// Source  the elements and attributes, their order and which are required, are those of the schema
///         commonly used for Apache Ant's JUnit reports (windyroad/JUnit-Schema, JUnit.xsd).
#pragma once

#include "runner/papers/beside.hpp"
#include "runner/papers/run_document.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

/// Text between tags and in attributes: & < > " ' as entities; what XML 1.0 cannot hold (control
/// characters but tab and line ends, broken UTF-8, U+FFFE) as U+FFFD.
[[nodiscard]] std::string xml_escaped(std::string_view text);

[[nodiscard]] std::string junit_xml(const RunDocument& run, const Beside& beside);

}  // namespace afterload::runner
