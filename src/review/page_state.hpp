#pragma once
// What the page is told, and what it says, as JSON.

#include <optional>
#include <string>
#include <vector>

#include "review/session.hpp"

namespace lotwear {

/// Everything: survey, photos, markings as they hold and as they were measured, words, templates.
std::string whole_state(const Session::View& view, const std::vector<Shape>& shapes,
                        const std::vector<std::optional<std::string>>& photo_trouble);
/// After a change: only the markings named; one that is gone stands in `gone`.
std::string changed_state(const Session::View& view, const Outcome& outcome, double measured_ms);
std::string trouble_text(const std::string& what);

/// What the page wishes. Throws Failure when it is none.
struct Wish {
  enum class Is { say, draw, add, lay, undo, redo } is = Is::say;
  long revision = 0;
  std::string id, fields, shape;
  std::size_t photo = 0;
  Kind kind = Kind::other;
  Colour colour = Colour::other;
  std::optional<std::vector<ImageRing>> outline;
  ImagePoint from, to;
};
Wish read_wish(const std::string& body);

/// A field of a small message ("tab", "photo").
std::string text_in(const std::string& body, const char* name);
std::size_t number_in(const std::string& body, const char* name);

}  // namespace lotwear
