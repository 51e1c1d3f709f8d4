#include "runner/interview/rating_interview.hpp"

#include "runner/interview/rating_words.hpp"
#include "runner/papers/figure_words.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/quantity_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <utility>

namespace afterload::runner {
namespace {

using sequences::Dimension;

struct SheetQuestion {
    FigureKind kind;
    std::string_view question;
    bool several;  ///< sheets print more than one: another load, input or frequency
};

// The order in which service sheets print them; common practice.
constexpr std::array sheet_questions{
    SheetQuestion{FigureKind::output_power, "Output power", true},
    SheetQuestion{FigureKind::thd, "Total harmonic distortion", true},
    SheetQuestion{FigureKind::modulation_distortion, "Intermodulation distortion", false},
    SheetQuestion{FigureKind::frequency_response, "Frequency response", true},
    SheetQuestion{FigureKind::power_bandwidth, "Power bandwidth", false},
    SheetQuestion{FigureKind::input_sensitivity, "Input sensitivity and impedance", true},
    SheetQuestion{FigureKind::overload_level, "Phono overload", false},
    SheetQuestion{FigureKind::gain, "Gain", true},
    SheetQuestion{FigureKind::output_voltage, "Output voltage (speakers, pre-out, tape out)", true},
    SheetQuestion{FigureKind::signal_to_noise, "Signal to noise", true},
    SheetQuestion{FigureKind::channel_separation, "Channel separation", true},
    SheetQuestion{FigureKind::damping_factor, "Damping factor", false},
    SheetQuestion{FigureKind::tone_range_error, "Tone controls", true},
    SheetQuestion{FigureKind::equalisation_error, "Phono equalisation (RIAA)", false},
    SheetQuestion{FigureKind::dc_offset, "DC offset at the speaker terminals", false},
    SheetQuestion{FigureKind::quiescent_current, "Idle current (bias)", false},
    SheetQuestion{FigureKind::supply_rail, "Supply rails", true},
};

/// A sheet may print any other figure, but for these: they have no number that is printed.
bool can_be_printed(FigureKind kind) {
    return kind != FigureKind::polarity && kind != FigureKind::channel_identity &&
           kind != FigureKind::clipping_symmetry && kind != FigureKind::random_steps &&
           kind != FigureKind::harmonic;
}

std::string lower(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return text;
}

std::optional<FigureKind> kind_called(const std::string& typed) {
    std::string file_name = lower(typed);
    std::replace(file_name.begin(), file_name.end(), ' ', '_');
    for (const FigureKind kind : all_figure_kinds()) {
        if (can_be_printed(kind) &&
            (file_name == name(kind) || lower(typed) == lower(std::string{words(kind)}))) {
            return kind;
        }
    }
    return std::nullopt;
}

std::string kinds_not_asked_for() {
    std::string out;
    for (const FigureKind kind : all_figure_kinds()) {
        const bool asked = std::any_of(sheet_questions.begin(), sheet_questions.end(),
                                       [&](const SheetQuestion& one) { return one.kind == kind; });
        if (!asked && can_be_printed(kind)) {
            out += (out.empty() ? "" : ", ") + std::string{words(kind)};
        }
    }
    return out;
}

std::string trimmed(const std::string& text) {
    const std::size_t begin = text.find_first_not_of(' ');
    return begin == std::string::npos ? std::string{}
                                      : text.substr(begin, text.find_last_not_of(' ') - begin + 1);
}

std::vector<std::string> parts_of(const std::string& text, char separator) {
    std::vector<std::string> parts;
    std::size_t begin = 0;
    while (begin <= text.size()) {
        const std::size_t end = std::min(text.find(separator, begin), text.size());
        if (std::string part = trimmed(text.substr(begin, end - begin)); !part.empty()) {
            parts.push_back(std::move(part));
        }
        begin = end + 1;
    }
    return parts;
}

constexpr std::size_t longest_name = 200;  // more does not stand on a nameplate

std::string required(const std::string& typed) {
    return typed.size() > longest_name ? fmt::format("more than {} bytes: shorten it", longest_name)
           : typed.empty()             ? "a sheet cannot be found again without it"
                                       : std::string{};
}

std::string short_enough(const std::string& typed) {
    return typed.size() > longest_name ? fmt::format("more than {} bytes: shorten it", longest_name)
                                       : std::string{};
}

}  // namespace

AskedFile RatingInterview::ask(const Search& search, std::optional<RatingStart> start) {
    questions_.say(
        "Enter skips a question, ? shows how sheets print it, undo takes the last figure back. "
        "Ctrl-D stops and keeps what was given.");
    const bool begun = start.has_value();
    if (begun) {
        draft_.begin_with(*std::move(start));
    } else {
        if (!maker_and_model()) {
            return file();
        }
        const LibrarySearch found = search(draft_.unit.maker, draft_.unit.model);
        questions_.say(words(found));
        bool anew = true;
        if ((!found.found.empty() && !offer(found, anew)) || as_it_is_ ||
            (anew && !describe_unit())) {
            return file();
        }
    }
    names_ = {draft_.unit.inputs, draft_.unit.outputs};
    if (page() && figures()) {
        further_figures();
    }
    return file();
}

void RatingInterview::stop(const std::string& question) {
    if (stopped_at_.empty()) {
        stopped_at_ = question;
    }
}

bool RatingInterview::maker_and_model() {
    for (const auto& [question, into] :
         {std::pair{"Maker", &draft_.unit.maker}, std::pair{"Model", &draft_.unit.model}}) {
        const auto answer = questions_.ask(question, "", required);
        if (!answer) {
            stop(question);
            return false;
        }
        *into = *answer;
    }
    return true;
}

bool RatingInterview::offer(const LibrarySearch& found, bool& anew) {
    std::vector<std::string> choices;
    for (const LibrarySheet& each : found.found) {
        questions_.say(fmt::format("{}: {}", each.path,
                                   each.sheet.title.empty() ? "no title" : each.sheet.title));
        for (const RatedFigure& rated : each.sheet.figures) {
            questions_.say(rating_words(rated), 2);
        }
        choices.push_back("use it as it is: " + each.path);
    }
    std::vector<RatingStart> starts;
    for (const LibrarySheet& each : found.found) {
        if (auto start = rating_start(each.text)) {
            starts.push_back(*std::move(start));
            choices.push_back("begin with it and add figures: " + each.path);
        }
    }
    choices.emplace_back("begin anew");
    const auto choice = questions_.choice("There is a sheet of this unit", choices);
    if (!choice) {
        stop("There is a sheet of this unit");
        return false;
    }
    if (*choice < found.found.size()) {
        as_it_is_ = found.found[*choice];
    } else if (*choice < found.found.size() + starts.size()) {
        draft_.begin_with(starts[*choice - found.found.size()]);
        anew = false;
    }
    return true;
}

bool RatingInterview::words_into(const std::string& question, const std::string& usual,
                                 std::vector<std::string>& into) {
    const auto answer = questions_.ask(question, usual, [](const std::string& typed) {
        return parts_of(typed, ',').empty() ? std::string{"at least one, as in line"}
                                            : short_enough(typed);
    });
    if (!answer) {
        stop(question);
        return false;
    }
    into = parts_of(*answer, ',');
    return true;
}

bool RatingInterview::mains(const std::string& question, const std::string& example,
                            Dimension dimension, double low, double high,
                            std::optional<double>& into) {
    const auto fits = [&](const std::string& typed) {
        into.reset();
        if (typed.empty()) {
            return std::string{};
        }
        const auto value = sequences::read_quantity(typed, dimension, "the value");
        if (!value) {
            return words(value.error());
        }
        if (*value < low || *value > high) {
            return fmt::format("{} is no mains: {:g} to {:g}", typed, low, high);
        }
        into = *value;
        return std::string{};
    };
    const auto answer = questions_.ask(question + ", as in " + example, "", fits);
    if (!answer) {
        stop(question);
    }
    return answer.has_value();
}

bool RatingInterview::describe_unit() {
    if (!words_into("Inputs, as the steps of a sequence name them", "line, phono",
                    draft_.unit.inputs) ||
        !words_into("Outputs", "speaker_a, speaker_b", draft_.unit.outputs)) {
        return false;
    }
    questions_.say(
        "Output terminals: find out with an ohmmeter, the unit off and unplugged. A grounded sense "
        "lead on a bridged output is a short circuit.");
    const auto terminals = questions_.choice(
        "Output terminals",
        {"not known: taken as bridged, which is the safe side",
         "common: one terminal of each output is the chassis", "bridged: none of them is"});
    if (!terminals) {
        stop("Output terminals");
        return false;
    }
    draft_.unit.bridged = *terminals != 1;
    draft_.terminals_known = *terminals != 0;
    questions_.say(
        "Most amplifiers with valves have an output transformer. Nothing drives one that has no "
        "load on it.");
    const auto has_one = questions_.yes("Output transformer", false);
    if (!has_one) {
        stop("Output transformer");
        return false;
    }
    draft_.unit.output_transformer = *has_one;
    std::optional<double> hertz;
    if (!mains("Mains voltage", "230 V", Dimension::volts, 80, 450, draft_.unit.mains_voltage) ||
        !mains("Mains frequency", "50 Hz", Dimension::hertz, 40, 70, hertz)) {
        return false;
    }
    if (hertz) {
        draft_.unit.mains_frequency = Hertz{*hertz};
    }
    return true;
}

bool RatingInterview::page() {
    const auto answer = questions_.ask(
        "Page that the figures are printed on (where it changes, write it behind a "
        "figure: 60 W, page 4)",
        "", short_enough);
    if (!answer) {
        stop("Page that the figures are printed on");
        return false;
    }
    const bool number =
        !answer->empty() && answer->find_first_not_of("0123456789") == std::string::npos;
    source_ = answer->empty() ? "page not noted" : (number ? "page " : "") + *answer;
    return true;
}

bool RatingInterview::figures() {
    for (const SheetQuestion& asked : sheet_questions) {
        Answer answer = figure(asked.kind, std::string{asked.question});
        while (answer == Answer::taken && asked.several) {
            answer = figure(asked.kind, std::string{asked.question} + ", another");
        }
        if (answer == Answer::ended) {
            return false;
        }
    }
    return true;
}

bool RatingInterview::further_figures() {
    while (true) {
        std::optional<FigureKind> kind;
        const std::string question = "Any other figure, by its name";
        const auto answer = questions_.ask(question, "", [&](const std::string& typed) {
            kind = kind_called(typed);
            return typed.empty() || kind ? std::string{}
                                         : "these are left: " + kinds_not_asked_for() +
                                               "; or any figure that was asked for before";
        });
        if (!answer) {
            stop(question);
            return false;
        }
        if (!kind) {
            return true;
        }
        if (figure(*kind, std::string{words(*kind)}) == Answer::ended) {
            return false;
        }
    }
}

RatingInterview::Answer RatingInterview::figure(FigureKind kind, const std::string& question) {
    std::vector<std::pair<std::string, sequences::PrintedFigure>> understood;
    const auto fits = [&](const std::string& typed) {
        understood.clear();
        if (typed == "?") {
            return fmt::format("as in {}", sequences::printed_example(kind));
        }
        if (typed == "undo") {
            take_back();
            return std::string{"now again"};
        }
        for (const std::string& part : parts_of(typed, ';')) {
            auto figure = sequences::read_printed_figure(part, kind, names_);
            if (!figure) {
                return words(figure.error());
            }
            if (std::string why = why_not(figure->rated); !why.empty()) {
                return why;
            }
            understood.emplace_back(part, *std::move(figure));
        }
        return std::string{};
    };
    const auto answer = questions_.ask(question, "", fits);
    if (!answer) {
        stop(question);
        return Answer::ended;
    }
    bool ended = false;
    for (auto& [printed, figure] : understood) {
        if (ended) {
            draft_.add_note(fmt::format("{}: {}; not asked about any more", words(kind), printed));
        } else if (!keep(kind, printed, std::move(figure))) {
            stop(question);
            ended = true;
        }
    }
    return ended ? Answer::ended : understood.empty() ? Answer::skipped : Answer::taken;
}

bool RatingInterview::keep(FigureKind kind, const std::string& printed,
                           sequences::PrintedFigure understood) {
    std::vector<std::string> comments{"printed: " + printed};
    for (const std::string& beside : understood.beside) {
        comments.push_back("beside it: " + beside);
    }
    if (!understood.rated.source.empty()) {
        source_ = understood.rated.source;
    }
    understood.rated.source = source_;
    const bool answered = missing_.complete(understood, draft_.typed(), comments);
    if (understood.without_tolerance()) {
        draft_.add_note(fmt::format("{}: {}; no limit yet: its tolerance was not answered",
                                    words(kind), printed));
        return answered;
    }
    for (const sequences::RatingEntry& entry :
         draft_.add(kind, understood, std::move(comments)).entries) {
        questions_.say("= " + rating_words(entry.rated), 2);
    }
    return at_odds() && answered;
}

bool RatingInterview::at_odds() {
    const auto found = draft_.contradictions();
    if (found.empty()) {
        return true;
    }
    for (const std::string& each : found) {
        questions_.say("These cannot both be right: " + each, 2);
    }
    // What the words name may be typed again; the figures of a sheet that was begun with stay.
    std::vector<std::size_t> named{draft_.items().size() - 1};
    for (const std::size_t item : draft_.named_in(found)) {
        named.push_back(item);
    }
    std::vector<std::string> choices;
    choices.reserve(named.size() + 1);
    for (const std::size_t item : named) {
        choices.push_back(
            fmt::format("type {} again", draft_.items()[item].entries.front().rated.id));
    }
    choices.emplace_back("keep both as they are printed; the file says so");
    const auto choice = questions_.choice("Which is wrong", choices);
    if (!choice || *choice == named.size()) {
        draft_.keep_contradictions();
        return choice.has_value();
    }
    const FigureKind kind = draft_.items()[named[*choice]].kind;
    draft_.remove(named[*choice]);
    return figure(kind, std::string{words(kind)} + ", again") != Answer::ended;
}

void RatingInterview::take_back() {
    if (draft_.items().empty()) {
        questions_.say("nothing stands there to be taken back", 2);
        return;
    }
    questions_.say("taken back: " + rating_words(draft_.items().back().entries.front().rated), 2);
    draft_.remove(draft_.items().size() - 1);
}

AskedFile RatingInterview::file() const {
    AskedFile file;
    std::size_t figures = draft_.figures();
    if (as_it_is_) {
        file.text = as_it_is_->text;
        figures = as_it_is_->sheet.figures.size();
    } else {
        file.stopped_at = stopped_at_.empty() && figures == 0 ? "no figure was given" : stopped_at_;
        file.text = draft_.text(today_, file.stopped_at);
    }
    file.told = fmt::format("{} rated {}", figures, figures == 1 ? "figure" : "figures");
    return file;
}

}  // namespace afterload::runner
