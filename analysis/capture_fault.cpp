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

const std::vector<CaptureFaultKind>& capture_fault_kinds() {
    static const std::vector<CaptureFaultKind> all{
        CaptureFaultKind::gap,        CaptureFaultKind::repeat,    CaptureFaultKind::clipped,
        CaptureFaultKind::unsettled,  CaptureFaultKind::too_short, CaptureFaultKind::silent,
        CaptureFaultKind::wrong_rate, CaptureFaultKind::not_finite};
    return all;
}

}  // namespace afterload
