#pragma once
// The words of the survey file for what a marking is. One list; every stage leans on it.

#include <array>
#include <optional>
#include <string_view>

namespace lotwear {

enum class Kind {
  line, stop_line, crosswalk, arrow_straight, arrow_left, arrow_right, arrow_straight_left, arrow_straight_right,
  arrow_left_right, accessible_symbol, hatching, legend, yield_line, curb, other
};
inline constexpr std::array<std::string_view, 15> kKindWords = {
    "line", "stop-line", "crosswalk", "arrow-straight", "arrow-left", "arrow-right", "arrow-straight-left",
    "arrow-straight-right", "arrow-left-right", "accessible-symbol", "hatching", "legend", "yield-line", "curb", "other"};

enum class Colour { white, yellow, blue, red, green, black, other };
inline constexpr std::array<std::string_view, 7> kColourWords = {"white", "yellow", "blue", "red", "green", "black", "other"};

enum class Surface { asphalt, concrete, other };
inline constexpr std::array<std::string_view, 3> kSurfaceWords = {"asphalt", "concrete", "other"};

enum class Action { no_action, repaint, grind_and_repaint };
inline constexpr std::array<std::string_view, 3> kActionWords = {"no-action", "repaint", "grind-and-repaint"};

constexpr std::string_view word(Kind k) { return kKindWords[static_cast<std::size_t>(k)]; }
constexpr std::string_view word(Colour c) { return kColourWords[static_cast<std::size_t>(c)]; }
constexpr std::string_view word(Surface s) { return kSurfaceWords[static_cast<std::size_t>(s)]; }
constexpr std::string_view word(Action a) { return kActionWords[static_cast<std::size_t>(a)]; }

template <class Enum, std::size_t N>
constexpr std::optional<Enum> from_word(const std::array<std::string_view, N>& words, std::string_view w) {
  for (std::size_t i = 0; i < N; ++i) {
    if (words[i] == w) return static_cast<Enum>(i);
  }
  return std::nullopt;
}
constexpr std::optional<Kind> kind_from(std::string_view w) { return from_word<Kind>(kKindWords, w); }
constexpr std::optional<Colour> colour_from(std::string_view w) { return from_word<Colour>(kColourWords, w); }
constexpr std::optional<Surface> surface_from(std::string_view w) { return from_word<Surface>(kSurfaceWords, w); }
constexpr std::optional<Action> action_from(std::string_view w) { return from_word<Action>(kActionWords, w); }

constexpr bool is_arrow(Kind k) { return k >= Kind::arrow_straight && k <= Kind::arrow_left_right; }

}  // namespace lotwear
