/// Where something stands in a file.
#pragma once

namespace afterload::sequences {

/// Lines and columns count from 1; columns count characters, not bytes. Line 0: not in a file (a
/// value given on the command line).
struct Place {
    int line = 0;
    int column = 0;
    bool operator==(const Place&) const = default;
};

}  // namespace afterload::sequences
