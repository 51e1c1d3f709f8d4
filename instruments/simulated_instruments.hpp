/// The instruments of the simulated bench: each a thin face of the simulated world, which outlives
/// it.
#pragma once

#include "instruments/capture.hpp"
#include "instruments/hands.hpp"
#include "instruments/load.hpp"
#include "instruments/mains_switch.hpp"
#include "instruments/meter.hpp"
#include "instruments/range_switch.hpp"
#include "instruments/simulated_world.hpp"
#include "instruments/simulation.hpp"
#include "instruments/source.hpp"
#include "instruments/virtual_clock.hpp"

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

namespace afterload::instruments {

class SimulatedSource final : public Source {
public:
    SimulatedSource(SimulatedWorld& world, const Simulation& simulation);

    [[nodiscard]] std::string identity() const override;
    [[nodiscard]] VoltsPeak full_scale() const override { return full_scale_; }
    [[nodiscard]] Task<BenchResult<void>> play(Stimulus stimulus) override;
    [[nodiscard]] Task<BenchResult<void>> mute() override;

private:
    SimulatedWorld& world_;
    VoltsPeak full_scale_;
    SampleRate rate_;
};

/// One sine on both channels, on a clock of its own. Whoever plays last has the unit.
class SimulatedSineSource final : public Source {
public:
    SimulatedSineSource(SimulatedWorld& world, VoltsPeak full_scale)
        : world_{world}, full_scale_{full_scale} {}

    [[nodiscard]] std::string identity() const override { return "simulated generator"; }
    [[nodiscard]] VoltsPeak full_scale() const override { return full_scale_; }
    [[nodiscard]] bool channels_apart() const override { return false; }
    [[nodiscard]] Task<BenchResult<void>> play(Stimulus stimulus) override;
    [[nodiscard]] Task<BenchResult<void>> mute() override;

private:
    SimulatedWorld& world_;
    VoltsPeak full_scale_;
};

class SimulatedRangeSwitch final : public RangeSwitch {
public:
    SimulatedRangeSwitch(SimulatedWorld& world, const Simulation& simulation);

    [[nodiscard]] std::string selected() const override;
    [[nodiscard]] Task<BenchResult<void>> select(std::string range) override;

    [[nodiscard]] const SimulatedRange& range() const { return ranges_[selected_]; }
    /// False: there is no such range.
    [[nodiscard]] bool select_now(const std::string& range);

private:
    SimulatedWorld& world_;
    std::vector<SimulatedRange> ranges_;
    std::size_t selected_ = 0;
};

class SimulatedCapture final : public Capture {
public:
    SimulatedCapture(SimulatedWorld& world, const Simulation& simulation,
                     const SimulatedRangeSwitch& range_switch);

    [[nodiscard]] std::string identity() const override;
    [[nodiscard]] SampleRate rate() const override { return rate_; }
    [[nodiscard]] Task<BenchResult<Captured>> record(Seconds length) override;
    [[nodiscard]] Task<BenchResult<std::unique_ptr<CaptureStream>>> stream() override;

private:
    SimulatedWorld& world_;
    const SimulatedRangeSwitch& range_switch_;
    SampleRate rate_;
    int bits_;
};

/// Time moves while the next block is waited for, and only then.
class SimulatedStream final : public CaptureStream {
public:
    SimulatedStream(SimulatedWorld& world, VoltsPeak full_scale, int bits)
        : world_{world}, bits_{bits}, calibration_{{"left", full_scale}, {"right", full_scale}} {}

    [[nodiscard]] int bits() const override { return bits_; }
    [[nodiscard]] const std::vector<ChannelCalibration>& calibration() const override {
        return calibration_;
    }
    [[nodiscard]] Task<BenchResult<void>> next(Frames frames, CapturedBlock& block) override;

private:
    SimulatedWorld& world_;
    int bits_;
    std::vector<ChannelCalibration> calibration_;
    std::int64_t next_ = 0;
};

class SimulatedMainsSwitch final : public MainsSwitch {
public:
    explicit SimulatedMainsSwitch(SimulatedWorld& world) : world_{world} {}

    [[nodiscard]] std::string identity() const override { return "simulated contactor"; }
    [[nodiscard]] Task<BenchResult<void>> open() override;

private:
    SimulatedWorld& world_;
};

class SimulatedLoads final : public Load {
public:
    explicit SimulatedLoads(SimulatedWorld& world) : world_{world} {}

    [[nodiscard]] std::string identity() const override;
    [[nodiscard]] bool connected() const override { return connected_; }
    [[nodiscard]] Task<BenchResult<void>> connect(Ohms resistance) override;
    [[nodiscard]] Task<BenchResult<void>> release() override;

private:
    SimulatedWorld& world_;
    bool connected_ = false;
};

/// Reads everything, and has a sensor on the heat-sink; `further` meters have a sensor there alone.
class SimulatedMeter final : public Meter {
public:
    explicit SimulatedMeter(SimulatedWorld& world, int further = 0, int index = 0);

    [[nodiscard]] std::string identity() const override;
    [[nodiscard]] bool can_read(MeterQuantity quantity) const override;
    [[nodiscard]] std::vector<Meter*> members() override;
    /// Refuses `both` for a quantity that each channel has.
    [[nodiscard]] Task<BenchResult<MeterReading>> read(MeterQuantity quantity,
                                                       Channels channel) override;

private:
    SimulatedWorld& world_;
    int index_;
    std::vector<std::unique_ptr<SimulatedMeter>> further_;
};

class SimulatedHands final : public Hands {
public:
    SimulatedHands(SimulatedWorld& world, SimulatedRangeSwitch& range_switch)
        : world_{world}, range_switch_{range_switch} {}

    [[nodiscard]] Task<BenchResult<void>> set(std::string control, std::string position) override;

private:
    SimulatedWorld& world_;
    SimulatedRangeSwitch& range_switch_;
};

}  // namespace afterload::instruments
