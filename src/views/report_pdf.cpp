#include "views/report_pdf.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "views/html_text.hpp"
#include "views/report_drawings.hpp"
#include "views/report_words.hpp"

namespace lotwear {

namespace {

constexpr PageInks kPage = kLightPage;

void cover(PdfFlow& flow, const ReportContent& content) {
  PdfPen& pen = flow.pen();
  const double wide = flow.width();
  const TextStyle kicker{9.5, true, false, kPage.band_quiet_ink};
  TextStyle title{24, true, false, kPage.band_ink};
  title.line_spacing = 1;
  const TextStyle name{7.8, false, false, kPage.band_quiet_ink}, value{9.6, false, false, kPage.band_ink};
  constexpr std::size_t kLongestTitle = 160, kLongestFact = 180;  // the band stays a band
  const std::string words = safe_text(cut_short(content.title, kLongestTitle));
  const double title_high = pen.height_of(words, wide, title);
  constexpr double kColumns = 4;
  const double column = wide / kColumns - 10;
  double facts_high = 0;
  for (const ReportFact& fact : content.site)
    facts_high = std::max(facts_high, pen.height_of(safe_text(cut_short(fact.value, kLongestFact)), column, value));
  const double rows = std::ceil(static_cast<double>(content.site.size()) / kColumns);
  const bool copy = !content.copy_words.empty();
  const double high = 58 + title_high + (copy ? 24 : 0) + rows * (facts_high + 20) + 26;
  pen.rect(0, 0, pen.size().width, high, kPage.band);
  pen.text(flow.left(), 34, wide, "Condition of the pavement markings", kicker);
  pen.text(flow.left(), 50, wide, words, title);
  double y = 56 + title_high;
  if (copy) {
    const double frame = pen.natural_width(content.copy_words, {9.5, true}) + 16;
    pen.frame(flow.left(), y, frame, 18, kPage.band_ink, 1.2);
    pen.text(flow.left() + 8, y + 3, wide, content.copy_words, {9.5, true, false, kPage.band_ink});
    y += 24;
  }
  for (std::size_t i = 0; i < content.site.size(); ++i) {
    const double x = flow.left() + static_cast<double>(i % 4) * wide / kColumns;
    const double top = y + static_cast<double>(i / 4) * (facts_high + 20);
    pen.text(x, top, column, content.site[i].name, name);
    pen.text(x, top + 11, column, safe_text(cut_short(content.site[i].value, kLongestFact)), value);
  }
  // A row of painted dashes that wears thinner from left to right.
  for (int i = 0; i * 34.0 + 22 <= wide; ++i) {
    const double paint = std::max(0.1, 0.95 - i * 0.055);
    const auto mixed = [&](std::uint8_t on, std::uint8_t off) {
      return static_cast<std::uint8_t>(off + (on - off) * paint);
    };
    pen.rect(flow.left() + i * 34.0, high - 14, 22, 4,
             {mixed(kPage.band_ink.r, kPage.band.r), mixed(kPage.band_ink.g, kPage.band.g),
              mixed(kPage.band_ink.b, kPage.band.b)});
  }
  flow.y = high + 6;
}

Ink action_ink_of(Action action) { return action_ink(kPage, action); }

void counts(PdfFlow& flow, const ReportContent& content) {
  PdfPen& pen = flow.pen();
  const double gap = 10, wide = (flow.width() - 2 * gap) / 3;
  double high = 0;
  for (const ReportCount& count : content.counts)
    high = std::max(high, 52 + pen.height_of(count.meaning, wide - 20, {8.6}) + (count.area.empty() ? 0 : 13));
  flow.room(high);
  double x = flow.left();
  for (const ReportCount& count : content.counts) {
    const Ink ink = action_ink_of(count.action);
    pen.frame(x, flow.y, wide, high, kPage.edge);
    pen.rect(x, flow.y, wide, 4, ink);
    pen.text(x + 10, flow.y + 7, wide - 20, std::to_string(count.count), {21, true, false, ink});
    Drawing sign = action_sign(count.action);
    pen.drawing(x + 10, flow.y + 35, 10, sign);
    pen.text(x + 24, flow.y + 34, wide - 30, count.words, {9.6, true, false, ink});
    const double told = pen.text(x + 10, flow.y + 48, wide - 20, count.meaning, {8.6});
    if (!count.area.empty())
      pen.text(x + 10, flow.y + 49 + told, wide - 20, count.area, {8.2, false, false, kPage.quiet_ink});
    x += wide + gap;
  }
  flow.space(high + 8);
}

void glance(PdfFlow& flow, const ReportContent& content) {
  if (content.cards.empty()) return;
  PdfPen& pen = flow.pen();
  flow.heading("All markings at a glance", 120);
  flow.paragraph(
      "Each stripe is one marking, in order of work: what is left of its paint from the bottom up, and above it how "
      "the "
      "rest went.");
  double key = flow.left();
  for (const Spot spot : {Spot::paint, Spot::abraded, Spot::flaked, Spot::cracked}) {
    pen.drawing(key, flow.y + 1.5, 13, swatch(spot));
    pen.text(key + 17, flow.y, 90, loss_words(spot), {8.4});
    key += 17 + pen.natural_width(loss_words(spot), {8.4}) + 16;
  }
  flow.space(15);
  constexpr double kCell = 33.2, kStripe = 12, kHigh = 78;
  const int per_row = static_cast<int>(flow.width() / kCell);
  for (std::size_t i = 0; i < content.cards.size(); ++i) {
    const auto column = static_cast<int>(i) % per_row;
    if (column == 0) flow.room(kHigh);
    const ReportCard& card = content.cards[i];
    const double x = flow.left() + column * kCell;
    pen.begin_link(anchor(card.id));
    pen.drawing(x + (kCell - 8) / 2, flow.y, 8, action_sign(card.action));
    pen.drawing(x + (kCell - kStripe) / 2, flow.y + 11, kStripe, stripe(card));
    TextStyle style{7};
    style.align = TextStyle::Align::middle;
    const std::string id = safe_text(cut_short(card.id, 8));
    pen.text(x, flow.y + 60, kCell, id, style);
    pen.end_link();
    if (column + 1 == per_row || i + 1 == content.cards.size()) flow.space(kHigh - 4);
  }
}

void summary(PdfFlow& flow, const ReportContent& content) {
  flow.section("Summary", "s-summary");
  std::string lead;
  for (const std::string& sentence : content.summary)
    lead += sentence + " ";
  flow.paragraph(safe_text(lead), 11);
  counts(flow, content);
  glance(flow, content);
}

void order_of_work(PdfFlow& flow, const ReportContent& content) {
  if (content.cards.empty()) return;
  flow.section("Order of work", "s-order");
  PdfTable table{{"Rank", "Marking", "Work", "Paint left", "Largest loss", "Area", "Priority"},
                 {true, false, false, true, false, true, true},
                 {},
                 {}};
  for (const ReportCard& card : content.cards) {
    table.rows.push_back(
        {{std::to_string(card.rank), ""},
         {card.id + " " + card.title, card.id, {}, card.about},
         {card.action_words, "", card.action, card.review_words.empty() ? "" : "a person should look"},
         {fmt::format("{} ({}\u2013{})", percent_words(card.remaining), number(card.low, 0), number(card.high, 0)), ""},
         {card.main_loss, ""},
         {card.area, ""},
         {number(100 * card.priority, 0), ""}});
  }
  flow.table("Where the money does the most good first: how badly a marking is worn, times what its absence does.",
             table);
  if (content.not_counted.empty()) return;
  flow.heading("Seen twice, counted once");
  flow.points(content.not_counted);
}

void site_plan_section(PdfFlow& flow, const ReportContent& content) {
  if (!content.plan) return;
  const Drawing& drawing = content.plan->drawing;
  flow.section("Site plan", "s-plan", drawing.height * flow.width() / drawing.width + 30);
  flow.figure(drawing);
  flow.paragraph(content.plan->caption, 8.4);
  if (!content.plan->without_position.empty()) {
    flow.paragraph(safe_text("Not on the plan, because their photos do not know where they were taken: " +
                             listed(content.plan->without_position) + "."),
                   8.4);
  }
}

void evidence(PdfFlow& flow, const ReportContent& content) {
  flow.section("Evidence", "s-evidence",
               content.cards.empty() ? 20 : pdf_card_height(flow, content.cards.front(), content.repaint_below));
  if (content.cards.empty()) flow.paragraph("There is none: no marking could be measured.");
  for (const ReportCard& card : content.cards)
    pdf_card(flow, card, content.repaint_below);
}

void work(PdfFlow& flow, const ReportContent& content) {
  if (content.quantities.rows.empty() && !content.prices) return;
  flow.section(content.prices ? "Quantities and price" : "Quantities", "s-work", 120);
  if (content.price_warning) flow.flag("Example rates", *content.price_warning, kPage.warn_ink);
  flow.table("What there is to do", pdf_table(content.quantities), 7.8);
  if (content.prices) flow.table("What it costs", pdf_table(*content.prices, content.totals), 8.6);
  for (const std::string& sentence : content.work_summary)
    flow.paragraph(sentence);
  flow.points(content.work_notes);
}

void photo_log(PdfFlow& flow, const ReportContent& content) {
  if (content.photos.empty()) return;
  flow.section("Photos", "s-photos", 100);
  PdfTable table{{"File", "Taken", "Position", "Plane and scale from", "Markings", "SHA-256"},
                 {false, false, false, false, false, false},
                 {},
                 {}};
  for (const ReportPhoto& photo : content.photos) {
    std::string advice, hash = photo.sha256;
    for (const std::string& line : photo.advice)
      advice += (advice.empty() ? "" : "\n") + line;
    if (hash.size() == 64) hash.insert(32, "\n");
    table.rows.push_back({{photo.file, "", {}, photo.pixels},
                          {photo.taken, ""},
                          {photo.position, ""},
                          {photo.plane, "", {}, advice},
                          {photo.markings, ""},
                          {hash, "", {}, "", true}});
  }
  flow.table(
      "Every photo as it came. The SHA-256 sum is a fingerprint of the file: a photo that was changed by one byte has "
      "another.",
      table, 7.6);
}

void problems(PdfFlow& flow, const ReportContent& content) {
  if (content.problems.empty()) return;
  flow.section("Problems", "s-problems");
  PdfTable table{{"File", "What happened"}, {false, false}, {}, {}};
  for (const Problem& problem : content.problems)
    table.rows.push_back({{problem.file, ""}, {problem.what, ""}});
  flow.table("What could not be used or measured.", table);
}

/// Draws everything; answers the number of pages.
int draw(PdfPen& pen, const ReportContent& content, int pages) {
  pen.metadata(content.title, "Condition of pavement markings, with the bid", content.program);
  PdfFlow flow(pen, content, pages);
  cover(flow, content);
  summary(flow, content);
  order_of_work(flow, content);
  site_plan_section(flow, content);
  evidence(flow, content);
  work(flow, content);
  pdf_options(flow, content);
  pdf_schedule(flow, content);
  pdf_margin(flow, content);
  flow.section("Method and limits", "s-method", flow.first_guide_height(content.method));
  flow.guides(content.method);
  flow.section("Cautions", "s-cautions", flow.first_guide_height(content.cautions));
  flow.guides(content.cautions);
  photo_log(flow, content);
  problems(flow, content);
  pdf_signature(flow, content);
  pen.finish();
  return pen.page();
}

}  // namespace

std::string report_pdf(const ReportContent& content, PageSize size) {
  PdfPen counting(nullptr, size, content.date);
  const int pages = draw(counting, content, 0);
  std::string bytes;
  PdfPen pen(&bytes, size, content.date);
  draw(pen, content, pages);
  return bytes;
}

}  // namespace lotwear
