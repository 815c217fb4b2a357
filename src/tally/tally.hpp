#pragma once
// Survey + Rates -> Estimate: quantities, hours, price. Money is integer cents; rounding is half away from zero, once a
// line; totals are sums of rounded lines, so they add up on paper.

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/kinds.hpp"
#include "survey/survey.hpp"

namespace lotwear {

enum class Units { us_customary, metric };

/// What the rates file says (models/rates.json is the commented example; `_comment` fields are ignored).
struct Rates;

struct QuantityLine {
  Kind kind = Kind::other;
  Colour colour = Colour::other;
  Surface surface = Surface::other;
  Action action = Action::no_action;
  std::vector<std::string> markings;   ///< ids it came from
  int count = 0;
  double length_m = 0, area_m2 = 0, masking_m = 0, paint_l = 0, grind_m2 = 0, grind_h = 0, clean_h = 0, paint_h = 0;
  int without_size = 0;                ///< markings counted but without scale: their sizes are missing from the sums
};

struct PriceLine {
  std::string what;                    ///< in the owner's words
  double quantity = 0;
  std::string unit;
  std::int64_t unit_price_cents = 0, amount_cents = 0;
  std::string formula;                 ///< which rate and which markings
};

struct Estimate {
  std::string currency = "USD";
  std::vector<QuantityLine> quantities;
  std::vector<PriceLine> prices;
  std::int64_t subtotal_cents = 0, tax_cents = 0, total_cents = 0;
  double drying_h = 0, crew_h = 0;
  std::vector<std::string> notes;      ///< assumptions and what is missing, one sentence each
};

}  // namespace lotwear
