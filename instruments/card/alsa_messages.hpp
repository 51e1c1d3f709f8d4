/// What ALSA and its plugins would write to standard error.
#pragma once

namespace afterload::instruments {

/// Nothing of it from now on: what went wrong comes back as an error, and is said where it belongs.
void silence_alsa_messages();

}  // namespace afterload::instruments
