/// An instrument behind the kernel's USB-TMC device file: every write is a message, every read the
/// next one.
#pragma once

#include "instruments/wire/line.hpp"

#include <memory>
#include <string>

namespace afterload::instruments {

/// `path`: /dev/usbtmc0, or what udev calls it. Fails with `lost` where it cannot be opened.
///
/// The device file blocks: exchanges wait on a thread of the line's own, with the kernel's timeout
/// set to the deadline.
/// Source  USBTMC 1.0 (USB-IF, 2003); Linux, Documentation/ABI and <linux/usb/tmc.h>.
[[nodiscard]] BenchResult<std::unique_ptr<Line>> open_usbtmc(const std::string& address,
                                                             const std::string& path);

}  // namespace afterload::instruments
