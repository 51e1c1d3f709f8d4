#include "runner/known_faults.hpp"

#include "instruments/fault.hpp"

namespace afterload::runner {

const std::vector<std::string_view>& known_faults() {
    static const std::vector<std::string_view> names = [] {
        std::vector<std::string_view> all;
        for (const auto& fault : instruments::fault_kinds()) {
            all.push_back(fault.name);
        }
        return all;
    }();
    return names;
}

}  // namespace afterload::runner
