#include "runner/papers/json_place.hpp"

#include <fmt/format.h>

#include <utility>

namespace afterload::runner {

namespace {

std::string_view kind_of(const Json& value) {
    switch (value.type()) {
        case Json::value_t::null:
            return "null";
        case Json::value_t::object:
            return "an object";
        case Json::value_t::array:
            return "a list";
        case Json::value_t::string:
            return "text";
        case Json::value_t::boolean:
            return "true or false";
        default:
            return "a number";
    }
}

}  // namespace

void JsonPlace::misfit(std::string_view what) const {
    throw JsonMisfit{path_.empty() ? std::string{what} : fmt::format("{}: {}", path_, what)};
}

JsonPlace JsonPlace::at(std::string_view key) const {
    if (!value_->is_object()) {
        misfit(fmt::format("an object is needed, found {}", kind_of(*value_)));
    }
    const auto found = value_->find(std::string{key});
    if (found == value_->end()) {
        misfit(fmt::format("\"{}\" is missing", key));
    }
    return JsonPlace{*found, path_.empty() ? std::string{key} : fmt::format("{}.{}", path_, key)};
}

std::optional<JsonPlace> JsonPlace::find(std::string_view key) const {
    if (!value_->is_object()) {
        misfit(fmt::format("an object is needed, found {}", kind_of(*value_)));
    }
    if (!value_->contains(std::string{key}) || value_->at(std::string{key}).is_null()) {
        return std::nullopt;
    }
    return at(key);
}

std::vector<JsonPlace> JsonPlace::items() const {
    if (!value_->is_array()) {
        misfit(fmt::format("a list is needed, found {}", kind_of(*value_)));
    }
    std::vector<JsonPlace> places;
    places.reserve(value_->size());
    for (std::size_t i = 0; i < value_->size(); ++i) {
        places.emplace_back((*value_)[i], fmt::format("{}[{}]", path_, i));
    }
    return places;
}

std::vector<std::string> JsonPlace::keys() const {
    if (!value_->is_object()) {
        misfit(fmt::format("an object is needed, found {}", kind_of(*value_)));
    }
    std::vector<std::string> keys;
    for (const auto& item : value_->items()) {
        keys.push_back(item.key());
    }
    return keys;
}

std::string JsonPlace::text() const {
    if (!value_->is_string()) {
        misfit(fmt::format("text is needed, found {}", kind_of(*value_)));
    }
    return value_->get<std::string>();
}

double JsonPlace::number() const {
    if (!value_->is_number()) {
        misfit(fmt::format("a number is needed, found {}", kind_of(*value_)));
    }
    return value_->get<double>();
}

int JsonPlace::whole() const {
    if (!value_->is_number_integer()) {
        misfit(fmt::format("a whole number is needed, found {}",
                           value_->is_number() ? "a fraction" : kind_of(*value_)));
    }
    const auto wide = value_->get<std::int64_t>();
    if (!std::in_range<int>(wide)) {
        misfit("the number is too large");
    }
    return static_cast<int>(wide);
}

std::uint64_t JsonPlace::whole_unsigned() const {
    if (!value_->is_number_unsigned()) {
        misfit("a whole number that is not negative is needed");
    }
    return value_->get<std::uint64_t>();
}

bool JsonPlace::boolean() const {
    if (!value_->is_boolean()) {
        misfit(fmt::format("true or false is needed, found {}", kind_of(*value_)));
    }
    return value_->get<bool>();
}

std::vector<double> JsonPlace::numbers() const {
    std::vector<double> values;
    for (const JsonPlace& item : items()) {
        values.push_back(item.is_null() ? std::numeric_limits<double>::quiet_NaN() : item.number());
    }
    return values;
}

std::vector<std::string> JsonPlace::texts() const {
    std::vector<std::string> values;
    for (const JsonPlace& item : items()) {
        values.push_back(item.text());
    }
    return values;
}

std::string JsonPlace::text_or(std::string_view key, std::string_view absent) const {
    const auto place = find(key);
    return place ? place->text() : std::string{absent};
}

double JsonPlace::number_or(std::string_view key, double absent) const {
    const auto place = find(key);
    return place ? place->number() : absent;
}

bool JsonPlace::boolean_or(std::string_view key, bool absent) const {
    const auto place = find(key);
    return place ? place->boolean() : absent;
}

std::optional<double> JsonPlace::maybe_number(std::string_view key) const {
    const auto place = find(key);
    return place ? std::optional{place->number()} : std::nullopt;
}

std::optional<std::string> JsonPlace::maybe_text(std::string_view key) const {
    const auto place = find(key);
    return place ? std::optional{place->text()} : std::nullopt;
}

}  // namespace afterload::runner
