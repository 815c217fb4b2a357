#pragma once
// One model of the report, built once from survey, estimate and policy: what stands in it, in the owner's words and
// units. Pages (HTML, later PDF) only lay it out, so they cannot disagree. Everything in strings is plain text, also
// what users wrote: the page escapes it. No clock, no locale: same survey, same content.

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/kinds.hpp"
#include "measure/measure.hpp"
#include "policy/policy.hpp"
#include "survey/survey.hpp"
#include "tally/tally.hpp"
#include "views/site_plan.hpp"

namespace lotwear {

/// Whose rates made the prices: examples must never pass for an offer.
enum class RatesFrom { contractor, example };

struct ReportSettings {
  std::string date;                  ///< of the report, ISO 8601 "2026-04-11"; may be empty
  std::optional<std::string> title;  ///< instead of the site's name
  Units units = Units::us_customary;
  RatesFrom rates = RatesFrom::contractor;
  Copy copy = Copy::owner;
};

/// An evidence picture as it lies in the survey folder.
struct ReportPicture {
  std::string bytes;       ///< empty: not there
  std::string media_type;  ///< image/jpeg or image/png
  int width = 0, height = 0;
  std::string alt;
  std::string caption;
  std::string missing;  ///< why there is no picture; empty when there is one
};

/// A share of the footprint; `spot` picks its fill and pattern.
struct ReportShare {
  Spot spot = Spot::paint;
  std::string words;
  double percent = 0;
};

struct ReportFact {
  std::string name, value;
};

struct ReportCard {
  int rank = 0;                  ///< 1 is first
  std::string id, title, about;  ///< "M004", "Stop line", "white on asphalt"
  std::string name;              ///< the title inside a sentence: "stop line"
  Action action = Action::no_action;
  std::string action_words;
  double remaining = 0, low = 0, high = 0;  ///< percent
  std::string remaining_words;              ///< "63 % paint left (61–65 %)"
  std::vector<ReportShare> shares;          ///< paint left first, then the losses; adds up to 100 to rounding
  std::string main_loss;                    ///< "flaked off", "-" when next to nothing is lost
  std::string area;                         ///< of the footprint, a dash without scale
  double priority = 0;                      ///< 0..1
  std::vector<std::string> reasons;
  std::string if_it_waits;
  std::vector<std::string> cautions;  ///< one line each; they point to the report's cautions
  std::string review_words;           ///< empty: no person needs to look
  std::string standing;               ///< who says so: measured only, changed or confirmed by a person
  std::optional<std::string> note;    ///< a person's words
  std::vector<ReportFact> facts;
  ReportPicture photo, plan, loss;
};

struct ReportCount {
  Action action = Action::no_action;
  int count = 0;
  std::string words, meaning, area;  ///< area empty when nothing has a size
};

/// A table as text; `number[i]` sets column i flush right.
struct ReportTable {
  std::vector<std::string> head;
  std::vector<bool> number;
  std::vector<std::vector<std::string>> rows;
};

struct ReportSection {
  std::string title;
  std::vector<std::string> paragraphs, points;
  std::string source;  ///< empty, or where the figures come from
};

/// One way to do the job, beside the others.
struct ReportOption {
  BidOption option = BidOption::needs_work;
  std::string title, meaning, total, hours, markings;
  bool chosen = false;              ///< the one that the quantities and the price below are for
  std::string left;                 ///< "4 markings stay as they are", empty when nothing stays
  std::vector<std::string> undone;  ///< what is left undone and why that matters, a sentence a kind
};

/// When the crew does what.
struct ReportSchedule {
  std::vector<std::string> sentences;  ///< hours, people, what is closed
  std::vector<Drawing> days;
  ReportTable tasks;  ///< hours of one person
  std::vector<std::string> weather;
  std::optional<ReportTable> coldest;  ///< pavement by air and humidity
};

/// Only in the contractor's copy.
struct ReportMargin {
  ReportTable costs;
  std::vector<ReportFact> totals;
  std::string meaning;
};

struct ReportSignature {
  std::string statement;
  std::vector<std::string> choices;  ///< one to be ticked
  std::vector<std::string> parties;  ///< each signs with name and date
};

struct ReportPhoto {
  std::string file, taken, position, pixels, plane, sha256, markings;
  std::vector<std::string> advice;
};

struct ReportContent {
  std::string title, program;
  Copy copy = Copy::owner;
  std::string copy_words;        ///< "Contractor's copy: not for the owner"; empty in the owner's
  std::string date;              ///< of the survey, else of the report; ISO 8601, may be empty
  std::vector<ReportFact> site;  ///< client, address, photographed, report date
  std::vector<std::string> summary;
  std::vector<ReportCount> counts;       ///< grind, repaint, leave
  std::vector<ReportCard> cards;         ///< in order of rank
  std::vector<std::string> not_counted;  ///< markings that repeat others
  std::optional<SitePlan> plan;
  std::vector<ReportOption> options;
  std::optional<ReportSchedule> schedule;
  std::optional<ReportMargin> margin;
  std::optional<ReportTable> workings, price_workings;  ///< the contractor's: every number with its formula
  std::optional<ReportSignature> signature;
  ReportTable quantities;
  std::optional<ReportTable> prices;
  std::vector<ReportFact> totals;  ///< the last one is the total
  std::vector<std::string> work_summary, work_notes;
  std::optional<std::string> price_warning;
  double repaint_below = 85;  ///< percent, for the gauges
  std::vector<ReportSection> method, cautions;
  std::vector<ReportPhoto> photos;
  std::vector<Problem> problems;
};

/// folder    the survey folder, for the evidence pictures; a picture that is missing, damaged or outside the folder is
///           named in its card, never an error
/// estimate  nothing: no quantities and no prices
/// options   the same survey priced in other ways, to stand side by side; may be empty
ReportContent report_content(const Survey& survey, const Policy& policy, const std::optional<Estimate>& estimate,
                             const std::filesystem::path& folder, const ReportSettings& settings,
                             const std::vector<Estimate>& options = {});

}  // namespace lotwear
