#include "tally/quantities.hpp"

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <tuple>

namespace lotwear {

namespace {

/// Containers of each size, and what they hold together.
struct Load {
  std::vector<int> counts;
  double litres = 0;
  int containers = 0;
};

/// Tries as many of the largest as fit and one more, and the rest in smaller ones: two ways a size.
Load fill(double litres, const std::vector<double>& sizes, std::size_t at) {
  const double size = sizes[at];
  // A hair over a whole number of containers is arithmetic, not paint.
  constexpr double kHair = 1e-9;
  const int enough = std::max(0, static_cast<int>(std::ceil(litres / size - kHair)));
  Load best{std::vector<int>(sizes.size(), 0), enough * size, enough};
  best.counts[at] = enough;
  if (at + 1 == sizes.size()) return best;
  const int fitting = std::max(0, static_cast<int>(std::floor(litres / size + kHair)));
  Load mixed = fill(litres - fitting * size, sizes, at + 1);
  mixed.counts[at] += fitting, mixed.litres += fitting * size, mixed.containers += fitting;
  const bool less = mixed.litres < best.litres - kHair;
  const bool same = std::abs(mixed.litres - best.litres) <= kHair;
  return less || (same && mixed.containers < best.containers) ? mixed : best;
}

}  // namespace

Amounts& Amounts::operator+=(const Amounts& other) {
  constexpr std::array kAll = {&Amounts::length_m,      &Amounts::area_m2,  &Amounts::perimeter_m, &Amounts::masking_m,
                               &Amounts::paint_l,       &Amounts::beads_kg, &Amounts::clean_m2,    &Amounts::grind_m2,
                               &Amounts::grind_pass_m2, &Amounts::debris_l, &Amounts::prime_m2,    &Amounts::primer_l,
                               &Amounts::clean_h,       &Amounts::dry_h,    &Amounts::mask_h,      &Amounts::grind_h,
                               &Amounts::collect_h,     &Amounts::prime_h,  &Amounts::paint_h};
  static_assert(sizeof(Amounts) == kAll.size() * sizeof(double), "every amount is added");
  for (const auto amount : kAll)
    this->*amount += other.*amount;
  return *this;
}

std::vector<QuantityLine> add_up(const Work& work) {
  std::map<std::tuple<Kind, Colour, Surface, Action>, QuantityLine> lines;
  for (const MarkingWork& marking : work.markings) {
    QuantityLine& line = lines[{marking.kind, marking.colour, marking.surface, marking.action}];
    line.kind = marking.kind, line.colour = marking.colour;
    line.surface = marking.surface, line.action = marking.action;
    line.fields = marking.field && (line.markings.empty() || line.fields);
    line.markings.push_back(marking.id);
    ++line.count;
    line += marking.amounts;
    if (marking.size) {
      line.width_m += marking.size->width_m;
    } else {
      ++line.without_size;
      line.ids_without_size.push_back(marking.id);
    }
  }
  std::vector<QuantityLine> all;
  for (auto& [key, line] : lines) {
    const int with_size = line.count - line.without_size;
    if (with_size > 0) line.width_m /= with_size;
    all.push_back(std::move(line));
  }
  return all;
}

std::vector<PaintLine> paint_by_colour(const std::vector<QuantityLine>& lines, const Rates& rates) {
  std::map<Colour, PaintLine> colours;
  for (const QuantityLine& line : lines) {
    if (line.paint_l <= 0) continue;
    PaintLine& paint = colours[line.colour];
    paint.colour = line.colour;
    paint.paint_l += line.paint_l;
    paint.beads_kg += line.beads_kg;
  }
  std::vector<PaintLine> paint;
  for (auto& [colour, line] : colours) {
    line.containers = whole_containers(line.paint_l, rates.containers);
    paint.push_back(line);
  }
  return paint;
}

std::vector<std::string> whole_containers(double litres, const std::vector<WrittenAmount>& sizes) {
  constexpr double kMostLitres = 1e6;  // beyond that the numbers say more than the words
  if (sizes.empty() || !(litres > 0) || litres > kMostLitres) return {};
  std::vector<double> in_litres;
  for (const WrittenAmount& size : sizes)
    in_litres.push_back(size.value * unit_named(size.unit)->size);
  const Load load = fill(litres, in_litres, 0);
  std::vector<std::string> words;
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    if (load.counts[i] > 0) words.push_back(fmt::format("{} x {} {}", load.counts[i], sizes[i].decimal, sizes[i].unit));
  }
  return words;
}

}  // namespace lotwear
