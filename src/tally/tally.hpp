#pragma once
// Survey + Rates -> Estimate: quantities, crew plan, price, cost. Money is integer cents; rounding is half away from
// zero, once a line; totals are sums of rounded lines, so they add up on paper.
// 1. leave out markings that repeat another; take the person's word for kind, colour, outline and action (repeats,
// work)
// 2. what each marking takes, by the rates (work); add up by kind, colour, surface and action (quantities, workings)
// 3. give the tasks to the crew, grinding one marking while another dries (crew_plan)
// 4. price every line that needs work, then materials, extras and the journey; night, weekend, discount, minimum, tax
// 5. what it costs the contractor: never in the owner's copy
// The same survey is priced three times: safety only, everything that needs work, the full lot (options).

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/kinds.hpp"
#include "survey/survey.hpp"
#include "tally/money.hpp"
#include "tally/rates.hpp"

namespace lotwear {

enum class Units { us_customary, metric };

/// How much of the lot is priced.
enum class BidOption { safety_only, needs_work, full_lot };
inline constexpr std::array<BidOption, 3> kBidOptions = {BidOption::safety_only, BidOption::needs_work,
                                                         BidOption::full_lot};
inline constexpr std::array<std::string_view, 3> kBidOptionWords = {"safety-only", "needs-work", "full-lot"};
constexpr std::string_view word(BidOption option) { return kBidOptionWords[static_cast<std::size_t>(option)]; }

/// What work takes: metric, unrounded, zero where a size is not known.
struct Amounts {
  double length_m = 0, area_m2 = 0, perimeter_m = 0;
  double masking_m = 0;                    ///< outline to mask, for kinds that are masked
  double paint_l = 0, beads_kg = 0;        ///< to put down, waste included
  double clean_m2 = 0;                     ///< the marking, or what was ground
  double grind_m2 = 0, grind_pass_m2 = 0;  ///< area with its margin, once; and times its passes
  double debris_l = 0;                     ///< dust and chips
  double prime_m2 = 0, primer_l = 0;
  double clean_h = 0, dry_h = 0, mask_h = 0, grind_h = 0, collect_h = 0, prime_h = 0, paint_h = 0;  ///< one person

  double hours() const { return clean_h + dry_h + mask_h + grind_h + collect_h + prime_h + paint_h; }
  Amounts& operator+=(const Amounts& other);
};

/// How a number came about, as a person can check it with a pocket calculator.
struct Working {
  std::string what, formula;
  std::vector<std::string> rates;  ///< fields of the rates file
};

/// Markings of one kind, colour, surface and action. Without size a marking is counted; its sizes are missing from the
/// sums.
struct QuantityLine : Amounts {
  Kind kind = Kind::other;
  Colour colour = Colour::other;
  Surface surface = Surface::other;
  Action action = Action::no_action;
  std::vector<std::string> markings;  ///< ids it came from
  bool fields = false;                ///< all of them fields that other markings are painted on
  int count = 0;
  double width_m = 0;    ///< mean over those with a size
  int without_size = 0;  ///< markings counted whose sizes are missing from the sums
  std::vector<std::string> ids_without_size;
  std::vector<Working> workings;
};

/// What a price line's quantity is a copy of, so that a spreadsheet can keep the two together.
enum class QuantityOf { itself, count, length, area, ground, repaint_hours, grind_hours, paint, beads, primer, debris };

enum class PriceOf { work, material, extra, journey, surcharge, discount, minimum };
inline constexpr std::array<std::string_view, 7> kPriceOfWords = {"work",      "material", "extra",  "journey",
                                                                  "surcharge", "discount", "minimum"};
constexpr std::string_view word(PriceOf of) { return kPriceOfWords[static_cast<std::size_t>(of)]; }

struct PriceLine {
  std::string what;     ///< in the owner's words
  double quantity = 0;  ///< rounded to hundredths: amount = quantity x unit price, to the cent
  std::string unit;
  std::int64_t unit_price_cents = 0, amount_cents = 0;
  std::string formula;  ///< which rate and which markings
  PriceOf of = PriceOf::work;
  std::string rate{};                      ///< field of the rates file
  std::int64_t hundredths_of_percent = 0;  ///< of a surcharge, a discount or a mark-up
  QuantityOf quantity_of = QuantityOf::itself;
  double unit_size = 1;            ///< of `unit`, in metres, square metres, litres, kilograms, hours
  int quantity_line = -1;          ///< position in `quantities`, for work
  std::optional<Colour> colour{};  ///< of paint
};

struct PaintLine {
  Colour colour = Colour::other;
  double paint_l = 0, beads_kg = 0;
  std::vector<std::string> containers{};  ///< "2 x 5 gal", rounded up; empty when the rates list none
};

enum class Task { set_up, grind, collect, clean, dry, mask, prime, paint, wait, pack_up };
inline constexpr std::array<std::string_view, 10> kTaskWords = {"set-up", "grind", "collect", "clean", "dry",
                                                                "mask",   "prime", "paint",   "wait",  "pack-up"};
constexpr std::string_view word(Task task) { return kTaskWords[static_cast<std::size_t>(task)]; }

/// A task that goes on somewhere on the lot from..to, hours since the day's start; gaps below a minute are closed.
struct TaskSpan {
  Task task = Task::set_up;
  int day = 1;
  double from_h = 0, to_h = 0;
};

struct CrewPlan {
  int people = 1, days = 0;
  std::vector<TaskSpan> spans;  ///< by day, task and time
  /// Hours of one person for each task, in the order of the work; waiting takes nobody.
  std::vector<std::pair<Task, double>> person_h;
  std::vector<double> day_h;  ///< length of each day
  double on_site_h = 0;       ///< sum of the days
  double one_by_one_h = 0;    ///< the same if nothing overlapped: one person's tasks one after another, and waiting
  int bays = 0, lanes = 0;    ///< closed in all, though not at once
  std::vector<std::string> weather;  ///< limits, one sentence each
  /// Coldest pavement for a relative humidity and an air temperature; degrees Celsius.
  struct Coldest {
    double humidity_percent = 0, air_c = 0, dew_point_c = 0, pavement_c = 0;
  };
  std::vector<Coldest> coldest;
};

struct CostLine {
  std::string what, formula;
  std::int64_t cents = 0;
  double quantity = 1;  ///< cents = quantity x the rate, to the cent
  std::string rate{};   ///< field of the rates file
  int price_line = -1;  ///< position in `prices` whose quantity it shares
};

/// The contractor's own side. Nothing when the rates say nothing of costs.
struct Margin {
  std::vector<CostLine> costs;
  std::int64_t cost_cents = 0, margin_cents = 0;  ///< price before tax less cost
  std::int64_t margin_hundredths_of_percent = 0;  ///< of the price before tax
  std::int64_t per_crew_hour_cents = 0;           ///< margin for each hour on site
};

struct LeftUndone {
  std::string id;
  Kind kind = Kind::other;
  Action action = Action::no_action;
  double priority = 0;
  bool field = false;  ///< another marking is painted upon it
};

struct Estimate {
  BidOption option = BidOption::needs_work;
  Units units = Units::us_customary;  ///< of everything a person reads; the numbers here stay metric
  std::string rates_name, currency = "USD";
  std::vector<QuantityLine> quantities;
  std::vector<LeftUndone> left_undone;
  std::vector<PaintLine> paint;
  double primer_l = 0, debris_l = 0;
  std::vector<std::string> primer_containers;
  std::vector<PriceLine> prices;
  std::int64_t subtotal_cents = 0, tax_cents = 0, total_cents = 0;
  std::int64_t tax_hundredths_of_percent = 0, minimum_cents = 0;
  TaxOn tax_on = TaxOn::everything;
  double drying_h = 0;  ///< waiting for paint, all coats
  double person_h = 0;  ///< hours of all tasks, one person each
  double crew_h = 0;    ///< on site, by the crew plan
  CrewPlan plan;
  std::optional<Margin> margin;
  std::vector<std::string> notes;  ///< assumptions and what is missing, one sentence each
};

/// When and what is asked for.
struct EstimateSettings {
  Units units = Units::us_customary;
  BidOption option = BidOption::needs_work;
  bool night = false, weekend = false;
};

/// Throws Failure when a price goes beyond any job.
Estimate estimate(const Survey& survey, const Rates& rates, const EstimateSettings& settings);
Estimate estimate(const Survey& survey, const Rates& rates, Units units);

/// The same survey priced three times, in the order of `kBidOptions`.
std::vector<Estimate> estimate_options(const Survey& survey, const Rates& rates, EstimateSettings settings);

/// Whose eyes a file is for: costs, margins and workings are only in the contractor's.
enum class Copy { owner, contractor };

/// estimate.json; same estimates, same bytes. `chosen` is one of the options, or an estimate of its own.
std::string estimate_text(const Estimate& chosen, const std::vector<Estimate>& options = {},
                          Copy copy = Copy::contractor);
/// estimate.xlsx: the same numbers as live formulas over the quantities and, in the contractor's copy, the rates, so
/// that a changed rate recomputes. `date` stands in the file's properties. Throws Failure when no temporary file can be
/// made.
std::string estimate_xlsx(const Estimate& estimate, const Rates& rates, const std::string& date,
                          Copy copy = Copy::contractor);
/// markings.geojson, RFC 7946: where each marking's photo was taken, what it is, what is left, what to do. A marking
/// whose photo has no position has a null geometry.
std::string markings_geojson(const Survey& survey);

/// estimate.csv: RFC 4180. A text cell that a spreadsheet would take for a formula begins with an apostrophe.
std::string estimate_csv(const Estimate& estimate, Copy copy = Copy::contractor);

}  // namespace lotwear
