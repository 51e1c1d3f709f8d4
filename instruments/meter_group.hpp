/// Several meters as one: the first that can read a quantity does.
#pragma once

#include "instruments/meter.hpp"

#include <memory>
#include <string>
#include <utility>
#include <vector>

namespace afterload::instruments {

class MeterGroup final : public Meter {
public:
    /// At least one.
    explicit MeterGroup(std::vector<std::unique_ptr<Meter>> meters) : meters_{std::move(meters)} {}

    [[nodiscard]] std::string identity() const override { return meters_.front()->identity(); }
    [[nodiscard]] std::vector<Meter*> members() override {
        std::vector<Meter*> all;
        for (const auto& meter : meters_) {
            all.push_back(meter.get());
        }
        return all;
    }
    [[nodiscard]] bool can_read(MeterQuantity quantity) const override {
        return of(quantity) != nullptr;
    }
    /// Fails with `refused` where none can.
    [[nodiscard]] Task<BenchResult<MeterReading>> read(MeterQuantity quantity,
                                                       Channels channel) override;

private:
    [[nodiscard]] Meter* of(MeterQuantity quantity) const;

    std::vector<std::unique_ptr<Meter>> meters_;
};

}  // namespace afterload::instruments
