#include "instruments/sensor_file.hpp"

#include "instruments/wire/scpi_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <fstream>
#include <iterator>
#include <utility>

namespace afterload::instruments {
namespace {

constexpr Seconds stuck_after{300.0};
constexpr Seconds slowest_answer{120.0};  // of a heat sink to another power, to one digit

bool moved(double before, double now) {
    const double small = std::min(before, now);
    const double large = std::max(before, now);
    return large > 0.0 && large >= 2.0 * small;
}

}  // namespace

tl::expected<double, std::string> sensor_celsius(std::string_view text) {
    const auto fault = [](std::string why) { return tl::unexpected(std::move(why)); };
    std::string_view digits = trimmed(text);
    if (const auto t = digits.rfind("t="); t != std::string_view::npos) {
        if (digits.find("YES") == std::string_view::npos) {
            return fault("its checksum is wrong: look at the wire");
        }
        digits = digits.substr(t + 2);
    }
    int thousandths = 0;
    const auto [end, error] =
        std::from_chars(digits.data(), digits.data() + digits.size(), thousandths);
    if (error != std::errc{} || end != digits.data() + digits.size() || digits.empty()) {
        return fault(fmt::format("“{}” is no temperature", digits.substr(0, 40)));
    }
    if (thousandths == 85000) {
        return fault("85 °C exactly is its fault code: it was never asked to convert");
    }
    if (thousandths <= -127000) {
        return fault("-127 °C is its fault code: nothing answers on the bus");
    }
    if (thousandths < -55000 || thousandths > 400000) {
        return fault(fmt::format("{} °C is no temperature of a bench", thousandths / 1000));
    }
    return 1e-3 * thousandths;
}

bool StuckReading::stuck(Seconds now, double reading, double drive) {
    if (!reading_ || reading != *reading_) {
        reading_ = reading;
        since_ = now;
        drive_ = drive;
        drive_moved_.reset();
    } else if (!drive_moved_ && moved(drive_, drive)) {
        drive_moved_ = now;
    }
    return drive_moved_ && now - since_ >= stuck_after && now - *drive_moved_ >= slowest_answer;
}

SensorMeter::SensorMeter(std::string name, std::string file, MeterQuantity quantity,
                         double u_celsius, Clock& clock, std::function<double()> drive)
    : name_{std::move(name)},
      file_{std::move(file)},
      quantity_{quantity},
      u_celsius_{u_celsius},
      clock_{clock},
      drive_{std::move(drive)} {}

Task<BenchResult<MeterReading>> SensorMeter::read(MeterQuantity quantity, Channels /*channel*/) {
    const auto failed = [&](BenchFailure::Kind kind, std::string why) {
        return tl::unexpected<BenchFailure>(
            BenchFailure{kind, identity(), "read " + std::string{instruments::name(quantity)},
                         std::move(why), Seconds{0.0}});
    };
    if (quantity != quantity_) {
        co_return failed(BenchFailure::Kind::refused, "it is no sensor of that");
    }
    std::ifstream file{file_};
    const std::string text{std::istreambuf_iterator<char>{file}, {}};
    if (!file && text.empty()) {
        co_return failed(BenchFailure::Kind::lost, "the file is not there");
    }
    const auto celsius = sensor_celsius(text);
    if (!celsius) {
        co_return failed(BenchFailure::Kind::wrong_reply, "dead: " + celsius.error());
    }
    if (watch_.stuck(clock_.now(), *celsius, drive_())) {
        co_return failed(
            BenchFailure::Kind::wrong_reply,
            fmt::format("dead: {:.3f} °C for five minutes, and the drive changed", *celsius));
    }
    MeterReading reading;
    reading.value = *celsius;
    reading.u_k1 = u_celsius_;
    reading.source = name_;
    co_return reading;
}

}  // namespace afterload::instruments
