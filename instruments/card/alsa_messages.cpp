#include "instruments/card/alsa_messages.hpp"

#include <alsa/asoundlib.h>

namespace afterload::instruments {

namespace {

void unheard(const char* /*file*/, int /*line*/, const char* /*function*/, int /*error*/,
             const char* /*format*/, ...) {}

}  // namespace

void silence_alsa_messages() {
    snd_lib_error_set_handler(unheard);
}

}  // namespace afterload::instruments
