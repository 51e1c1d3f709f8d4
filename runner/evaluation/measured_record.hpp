/// A record with everything that turns it into figures.
#pragma once

#include "analysis/waveform.hpp"
#include "runner/papers/run_document.hpp"

namespace afterload::runner {

struct MeasuredRecord {
    Record record;
    StoredRecord stored;
};

}  // namespace afterload::runner
