// The floor under any program that measures captures: reads each file with libsndfile and makes one
// double transform a channel with FFTW, nothing else.
#include <sndfile.hh>

#include <cstdio>
#include <fftw3.h>
#include <memory>
#include <vector>

int main(int argc, char** argv) {
    double sum = 0.0;
    for (int i = 1; i < argc; ++i) {
        SndfileHandle file{argv[i]};
        if (file.error() != 0) {
            std::fprintf(stderr, "%s: %s\n", argv[i], file.strError());
            return 1;
        }
        const int channels = file.channels();
        const auto frames = static_cast<std::size_t>(file.frames());
        std::vector<double> interleaved(frames * static_cast<std::size_t>(channels));
        file.readf(interleaved.data(), file.frames());
        const std::unique_ptr<double, decltype(&fftw_free)> in{fftw_alloc_real(frames), fftw_free};
        const std::unique_ptr<fftw_complex, decltype(&fftw_free)> out{
            fftw_alloc_complex(frames / 2 + 1), fftw_free};
        const fftw_plan plan =
            fftw_plan_dft_r2c_1d(static_cast<int>(frames), in.get(), out.get(), FFTW_ESTIMATE);
        for (int channel = 0; channel < channels; ++channel) {
            for (std::size_t n = 0; n < frames; ++n) {
                in.get()[n] = interleaved[n * static_cast<std::size_t>(channels) +
                                          static_cast<std::size_t>(channel)];
            }
            fftw_execute(plan);
            sum += out.get()[1][0];
        }
        fftw_destroy_plan(plan);
    }
    std::printf("%g\n", sum);
}
