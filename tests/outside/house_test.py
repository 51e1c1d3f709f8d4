"""The rules of the house that a machine can check, and that each check finds an offence planted into
a copy of the tree.
"""

import os
import shutil
import subprocess
import tempfile
import unittest

ROOT = os.path.realpath(os.path.join(os.path.dirname(__file__), "..", ".."))
PARTS = ("analysis", "instruments", "sequences", "runner", "ci", ".clang-format")


def check(name, root):
    """The outcome of one check over a tree."""
    if name.endswith(".cmake"):
        command = ["cmake", f"-DROOT={root}", "-P", os.path.join(ROOT, "ci", name)]
    else:
        command = [os.path.join(ROOT, "ci", name)]
    return subprocess.run(
        command, capture_output=True, text=True, env=dict(os.environ, ROOT=str(root)), timeout=300
    )


class House(unittest.TestCase):
    def holds(self, name):
        done = check(name, ROOT)
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)

    def finds(self, name, file, line, *words):
        """`line` put at the end of `file` of a copy is found, and named."""
        with tempfile.TemporaryDirectory() as copy:
            for part in PARTS:
                source, target = os.path.join(ROOT, part), os.path.join(copy, part)
                if os.path.isdir(source):
                    shutil.copytree(source, target, ignore=shutil.ignore_patterns("python"))
                else:
                    shutil.copy(source, target)
            os.makedirs(os.path.join(copy, "tests"), exist_ok=True)
            path = os.path.join(copy, file)
            os.makedirs(os.path.dirname(path), exist_ok=True)
            with open(path, "a") as target:
                target.write("\n" + line + "\n")
            done = check(name, copy)
        said = done.stdout + done.stderr
        self.assertNotEqual(done.returncode, 0, f"{line} in {file} was not found")
        for word in (file, *words):
            self.assertIn(word, said)

    def test_layers_include_only_what_they_may(self):
        self.holds("layers.cmake")

    def test_libraries_are_included_through_their_doors_alone(self):
        self.holds("doors.cmake")

    def test_packages_and_places_are_named_where_they_may_be(self):
        self.holds("names.cmake")

    def test_every_source_is_on_the_list_of_its_folder(self):
        self.holds("listed.cmake")

    def test_sources_are_formatted(self):
        self.holds("format.sh")

    def test_the_layer_check_finds_an_analysis_that_knows_the_runner(self):
        line = '#include "runner/papers/run_document.hpp"'
        self.finds("layers.cmake", "analysis/tone.cpp", line, "runner/papers/run_document.hpp")

    def test_the_layer_check_finds_instruments_that_compute_a_tone(self):
        line = '#include "analysis/tone.hpp"'
        self.finds("layers.cmake", "instruments/capture.hpp", line, "analysis/tone.hpp")

    def test_the_layer_check_finds_sequences_that_know_the_bench(self):
        line = '#include "instruments/bench.hpp"'
        self.finds("layers.cmake", "sequences/sequence.hpp", line, "instruments/bench.hpp")

    def test_the_layer_check_finds_a_vocabulary_that_knows_the_analysis(self):
        line = '#include "analysis/harmonic.hpp"'
        self.finds("layers.cmake", "analysis/figure.hpp", line, "analysis/harmonic.hpp")

    def test_the_layer_check_finds_an_analysis_that_opens_files(self):
        self.finds("layers.cmake", "analysis/noise.cpp", "#include <fstream>", "<fstream>", "pure")

    def test_the_layer_check_finds_an_analysis_that_prints(self):
        line = 'void say() { std::printf("here\\n"); }'
        self.finds("layers.cmake", "analysis/noise.cpp", line, "std::printf", "pure")

    def test_the_layer_check_finds_a_product_that_includes_a_test(self):
        line = '#include "tests/support/signals.hpp"'
        self.finds("layers.cmake", "runner/driver.cpp", line, "tests/support/signals.hpp")

    def test_the_layer_check_finds_an_include_that_is_not_rooted(self):
        self.finds("layers.cmake", "analysis/tone.cpp", '#include "spectrum.hpp"', "spectrum.hpp")

    def test_the_door_check_finds_a_second_door(self):
        for file, header, door in (
            ("analysis/spectrum.cpp", "kissfft/kissfft.hh", "analysis/transform.cpp"),
            ("runner/driver.cpp", "sndfile.h", "instruments/recording.cpp"),
            ("sequences/sequence_reader.cpp", "yaml-cpp/yaml.h", "sequences/yaml.cpp"),
            ("instruments/source.hpp", "boost/asio.hpp", "instruments/async.hpp"),
            ("runner/driver.cpp", "nlohmann/json.hpp", "runner/papers/json_text.hpp"),
        ):
            with self.subTest(header=header):
                self.finds("doors.cmake", file, f"#include <{header}>", f"<{header}>", door)

    def test_the_door_check_finds_a_library_without_a_door(self):
        self.finds("doors.cmake", "runner/driver.cpp", "#include <fftw3.hpp>", "without a door")

    def test_the_list_check_finds_a_source_and_a_test_on_no_list(self):
        for file in ("analysis/orphan.cpp", "instruments/orphan.hpp", "tests/analysis/orphan_test.cpp"):
            with self.subTest(file=file):
                self.finds("listed.cmake", file, "", "not in")

    def test_the_name_check_finds_a_package_named_twice(self):
        package = "lib" + "sndfile1-dev"
        self.finds("names.cmake", "README.md", f"Needs {package}.", package)

    def test_the_name_check_finds_an_installation_elsewhere(self):
        line = "apt-get " + "install -y cmake"
        self.finds("names.cmake", "ci/demo", line, "packages are installed by ci/setup")

    def test_the_name_check_finds_a_folder_of_one_machine(self):
        folder = "/" + "home/somebody/afterload"
        self.finds("names.cmake", "fixtures/note.md", f"see {folder}", "a folder of one machine")

    def test_the_format_check_finds_a_crooked_line(self):
        self.finds("format.sh", "analysis/crooked.cpp", "int   crooked( );", "crooked")


if __name__ == "__main__":
    unittest.main()
