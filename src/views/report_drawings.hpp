#pragma once
// The report's own small drawings, as inline SVG: they print sharp, follow light and dark, and carry their words along.

#include <string>

#include "views/report_content.hpp"

namespace lotwear {

/// The patterns that all drawings use; once a page, before the first of them.
std::string pattern_definitions();

/// Paint left with its interval over the losses by cause, on one scale from 0 to 100 %.
std::string gauge_svg(const ReportCard& card, double repaint_below);

/// One marking as an upright stripe: paint left from the bottom up, then the losses.
std::string stripe_svg(const ReportCard& card);

/// Square of a cause, for keys. No words: they stand beside it.
std::string swatch_svg(Spot spot);

/// The shape that stands for an action beside its words: ring, half disc, diamond.
std::string action_svg(Action action);

}  // namespace lotwear
