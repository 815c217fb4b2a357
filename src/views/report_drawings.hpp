#pragma once
// The report's own small drawings: they print sharp, follow light and dark, and carry their words along.

#include <string>

#include "tally/tally.hpp"
#include "views/drawing.hpp"
#include "views/report_content.hpp"

namespace lotwear {

/// Paint left with its interval over the losses by cause, on one scale from 0 to 100 %.
Drawing gauge(const ReportCard& card, double repaint_below);

/// One marking as an upright stripe: paint left from the bottom up, then the losses.
Drawing stripe(const ReportCard& card);

/// Square of a cause, for keys. No words: they stand beside it.
Drawing swatch(Spot spot);

/// The shape that stands for an action beside its words: ring, half disc, diamond.
Drawing action_sign(Action action);

/// One day of the crew plan: a row a task, time from left to right.
Drawing schedule_bar(const CrewPlan& plan, int day);

}  // namespace lotwear
