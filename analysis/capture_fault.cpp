#include "analysis/capture_fault.hpp"

namespace afterload {

std::string_view name(CaptureFaultKind kind) {
    switch (kind) {
        case CaptureFaultKind::gap:
            return "gap";
        case CaptureFaultKind::repeat:
            return "repeat";
        case CaptureFaultKind::clipped:
            return "clipped";
        case CaptureFaultKind::unsettled:
            return "unsettled";
        case CaptureFaultKind::too_short:
            return "short";
        case CaptureFaultKind::silent:
            return "silent";
        case CaptureFaultKind::wrong_rate:
            return "wrong_rate";
        case CaptureFaultKind::not_finite:
            return "not_finite";
    }
    return "";
}

}  // namespace afterload
