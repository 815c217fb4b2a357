#include "views/report_drawings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "views/palette.hpp"
#include "views/report_words.hpp"

namespace lotwear {

namespace {

/// Shares scaled to make 1 together; a page draws what it is given, also when that adds up to a little more or less.
std::vector<double> parts(const std::vector<ReportShare>& shares) {
  double sum = 0;
  for (const ReportShare& share : shares)
    sum += std::max(0.0, share.percent);
  std::vector<double> all;
  for (const ReportShare& share : shares)
    all.push_back(sum > 0 ? std::max(0.0, share.percent) / sum : 0);
  return all;
}

std::string spoken(const ReportCard& card) {
  std::string words = card.remaining_words;
  for (std::size_t i = 1; i < card.shares.size(); ++i) {
    if (card.shares[i].percent >= 0.05) {
      words += fmt::format("; {} {}", number(card.shares[i].percent, 1) + "\u00a0%", card.shares[i].words);
    }
  }
  return words;
}

/// "Grinding from 0.8 h to 1.1 h; ..." for those who cannot see the bars.
void said_spans(std::string& words, const CrewPlan& plan, int day, Task task) {
  double from = -1, to = 0;
  for (const TaskSpan& span : plan.spans) {
    if (span.day != day || span.task != task) continue;
    if (from < 0) from = span.from_h;
    to = std::max(to, span.to_h);
  }
  words += fmt::format("{}{} from {:.1f}\u00a0h to {:.1f}\u00a0h", words.empty() ? fmt::format("Day {}: ", day) : "; ",
                       task_words(task), from, to);
}

}  // namespace

Drawing gauge(const ReportCard& card, double repaint_below) {
  constexpr double left = 12, width = 376, bar_top = 40, bar_height = 20;
  const auto x = [&](double percent) { return left + width * std::clamp(percent, 0.0, 100.0) / 100; };
  Drawing drawing{400, 78, "gauge", spoken(card), {}};
  drawing.line(left, 24, left + width, 24, Tone::quiet);
  for (const int tick : {0, 25, 50, 75, 100}) {
    drawing.line(x(tick), 20, x(tick), 28, Tone::quiet);
    drawing.text(x(tick), 75, std::to_string(tick), 10, Tone::ink);
  }
  drawing.line(x(repaint_below), 15, x(repaint_below), bar_top + bar_height + 2, Tone::ink).dashed = true;
  drawing.text(x(repaint_below), 10, "repaint below " + number(repaint_below, 0), 10, Tone::ink);
  Drawn& range = drawing.rect(x(card.low), 19, std::max(2.0, x(card.high) - x(card.low)), 10, Tone::link, Tone::link);
  range.corner = 2, range.opacity = 0.5;
  const double at = x(card.remaining);
  drawing.polygon({at, 15, at + 5, 24, at, 33, at - 5, 24}, Tone::ink);
  double from = left;
  const std::vector<double> part = parts(card.shares);
  for (std::size_t i = 0; i < part.size(); ++i) {
    if (part[i] <= 0) continue;
    drawing.rect(from, bar_top, width * part[i], bar_height, card.shares[i].spot);
    from += width * part[i];
  }
  drawing.rect(left, bar_top, width, bar_height, {}, Tone::quiet);
  return drawing;
}

Drawing stripe(const ReportCard& card) {
  constexpr double height = 92, width = 22;
  Drawing drawing{24, 94, "stripe", "", {}};
  double at = 1 + height;
  const std::vector<double> part = parts(card.shares);
  for (std::size_t i = 0; i < part.size(); ++i) {
    if (part[i] <= 0) continue;
    at -= height * part[i];
    drawing.rect(1, at, width, height * part[i], card.shares[i].spot);
  }
  drawing.rect(1, 1, width, height, {}, Tone::quiet);
  return drawing;
}

Drawing swatch(Spot spot) {
  Drawing drawing{18, 12, "swatch", "", {}};
  drawing.rect(0.5, 0.5, 17, 11, spot, Tone::quiet);
  return drawing;
}

Drawing action_sign(Action action) {
  Drawing drawing{16, 16, "sign", "", {}};
  drawing.sign(0, 0, 16, action);
  return drawing;
}

Drawing schedule_bar(const CrewPlan& plan, int day) {
  constexpr double left = 150, right = 980, row = 22, top = 24;
  const double longest = *std::max_element(plan.day_h.begin(), plan.day_h.end());
  const double hours = std::max(1.0, std::ceil(longest * 2) / 2);
  const auto x = [&](double hour) { return left + (right - left) * hour / hours; };
  std::vector<Task> rows;
  for (const TaskSpan& span : plan.spans) {
    if (span.day == day && (rows.empty() || rows.back() != span.task)) rows.push_back(span.task);
  }
  Drawing drawing{1000, top + row * static_cast<double>(rows.size()) + 8, "schedule", "", {}};
  const double step = hours <= 3 ? 0.5 : hours <= 12 ? 1 : 2;
  for (double hour = 0; hour <= hours + 1e-9; hour += step) {
    drawing.line(x(hour), top - 4, x(hour), drawing.height - 6, Tone::edge);
    drawing.text(x(hour), 14, fmt::format("{:g}\u00a0h", hour), 12, Tone::quiet);
  }
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const double y = top + row * static_cast<double>(i);
    drawing.text(left - 12, y + 15, task_words(rows[i]), 13, Tone::ink).align = Drawn::Align::right;
    for (const TaskSpan& span : plan.spans) {
      if (span.day != day || span.task != rows[i]) continue;
      const bool waits = span.task == Task::wait;
      Drawn& bar = drawing.rect(x(span.from_h), y + 3, std::max(2.0, x(span.to_h) - x(span.from_h)), row - 7,
                                waits ? Fill(Tone::tint) : Fill(Tone::link), waits ? Fill(Tone::quiet) : Fill());
      bar.dashed = waits;
    }
    said_spans(drawing.words, plan, day, rows[i]);
  }
  return drawing;
}

}  // namespace lotwear
