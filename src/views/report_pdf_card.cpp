#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "views/html_text.hpp"
#include "views/report_drawings.hpp"
#include "views/report_pdf.hpp"
#include "views/report_words.hpp"

namespace lotwear {

namespace {

constexpr PageInks kPage = kLightPage;
constexpr double kPad = 9, kGap = 12, kPictures = 112, kHead = 24, kCaption = 16;

/// What a person wrote can be longer than a page; the HTML report has it whole.
std::string at_most(const std::string& words, std::size_t letters) {
  if (words.size() <= letters) return safe_text(words);
  return safe_text(cut_short(words, letters)) + " (whole in the HTML report)";
}

/// Measures, or draws, one thing under another in a column.
class Column {
 public:
  Column(PdfPen& pen, double x, double top, double width, bool draws)
      : pen_(pen), x_(x), top_(top), y_(top), width_(width), draws_(draws) {}

  void text(const std::string& words, const TextStyle& style, double after = 2, double indent = 0) {
    y_ += (draws_ ? pen_.text(x_ + indent, y_, width_ - indent, words, style)
                  : pen_.height_of(words, width_ - indent, style)) +
          after;
  }
  void head(const std::string& words) {
    if (y_ > top_) y_ += 3;
    text(words, {8.6, true}, 1);
  }
  void point(const std::string& words) {
    if (draws_) pen_.rect(x_ + 1, y_ + 4.2, 3.4, 1.7, kPage.ink);
    text(words, {8.2}, 2, 8);
  }
  void drawing(const Drawing& drawing) {
    if (draws_) pen_.drawing(x_, y_, width_, drawing);
    y_ += drawing.height * width_ / drawing.width + 3;
  }
  void swatch_line(const ReportShare& share) {
    if (draws_) pen_.drawing(x_, y_ + 1.4, 12, swatch(share.spot));
    text(share.words + " " + number(share.percent, 1) + "\u00a0%", {8.2}, 1.5, 17);
  }
  void fact(const ReportFact& fact, double name_width) {
    const std::string value = at_most(fact.value, 200);
    const TextStyle quiet{8, false, false, kPage.quiet_ink}, plain{8};
    const double high =
        std::max(pen_.height_of(fact.name, name_width, quiet), pen_.height_of(value, width_ - name_width - 6, plain));
    if (draws_) {
      pen_.text(x_, y_, name_width, fact.name, quiet);
      pen_.text(x_ + name_width + 6, y_, width_ - name_width - 6, value, plain);
    }
    y_ += high + 1.5;
  }
  void flag(const std::string& label, const std::string& words, Ink ink) {
    const TextStyle style{8};
    const std::string all = label + " " + words;
    const double high = pen_.height_of(all, width_ - 10, style);
    y_ += 2;
    if (draws_) {
      pen_.rect(x_, y_, 3, high + 3, ink);
      pen_.text(x_ + 8, y_ + 1.5, width_ - 10, all, style);
    }
    y_ += high + 5;
  }
  double height() const { return y_ - top_; }

 private:
  PdfPen& pen_;
  double x_, top_, y_, width_;
  bool draws_;
};

std::array<double, 3> column_widths(const PdfFlow& flow) {
  const double columns = flow.width() - 2 * kPad - 2 * kGap;
  return {columns * 0.37, columns * 0.30, columns * 0.33};
}

double seen_column(PdfPen& pen, const ReportCard& card, double repaint_below, double x, double y, double w,
                   bool draws) {
  Column column(pen, x, y, w, draws);
  column.text(card.remaining_words, {9.6, true}, 3);
  column.drawing(gauge(card, repaint_below));
  for (const ReportShare& share : card.shares) {
    if (share.percent >= 0.05 || share.spot == Spot::paint) column.swatch_line(share);
  }
  if (!card.review_words.empty()) column.flag("To be looked at.", card.review_words, kPage.warn_ink);
  for (const std::string& caution : card.cautions)
    column.flag("Caution.", caution, kPage.grind_ink);
  return column.height();
}

double measured_column(PdfPen& pen, const ReportCard& card, double x, double y, double w, bool draws) {
  Column column(pen, x, y, w, draws);
  column.head("Measured");
  double name_width = 0;
  for (const ReportFact& fact : card.facts)
    name_width = std::max(name_width, pen.natural_width(fact.name, {8}) + 1);
  for (const ReportFact& fact : card.facts)
    column.fact(fact, name_width);
  return column.height();
}

double why_column(PdfPen& pen, const ReportCard& card, double x, double y, double w, bool draws) {
  constexpr std::size_t kLongest = 420, kMostReasons = 6;
  Column column(pen, x, y, w, draws);
  column.head("Why");
  if (card.reasons.empty()) column.text("No reason was recorded.", {8.2});
  for (std::size_t i = 0; i < std::min(kMostReasons, card.reasons.size()); ++i)
    column.point(at_most(card.reasons[i], kLongest));
  column.head("If it waits");
  column.text(card.if_it_waits, {8.2});
  column.head("Who says so");
  column.text(card.standing, {8.2});
  if (card.note) column.text("Note: " + at_most(*card.note, kLongest), {8.2});
  return column.height();
}

void pictures(PdfPen& pen, const ReportCard& card, double x, double y, const std::array<double, 3>& widths) {
  const std::array all = {&card.photo, &card.plan, &card.loss};
  for (std::size_t i = 0; i < all.size(); ++i) {
    const ReportPicture* const picture = all[i];
    const double w = widths[i];
    pen.frame(x, y, w, kPictures, kPage.edge, 0.5);
    if (picture->bytes.empty() || !pen.picture(x + 2, y + 2, w - 4, kPictures - 4, *picture)) {
      TextStyle style{8, false, false, kPage.quiet_ink};
      style.align = TextStyle::Align::middle;
      const std::string missing = picture->bytes.empty() ? picture->missing : "cannot be read as a picture";
      pen.text(x + 6, y + kPictures / 2 - 10, w - 12, at_most(missing, 120), style);
    }
    pen.text(x, y + kPictures + 2, w, picture->caption, {7.4, false, false, kPage.quiet_ink});
    x += w + kGap;
  }
}

}  // namespace

double pdf_card_height(PdfFlow& flow, const ReportCard& card, double repaint_below) {
  PdfPen& pen = flow.pen();
  const std::array<double, 3> widths = column_widths(flow);
  const double lower =
      std::max({seen_column(pen, card, repaint_below, 0, 0, widths[0], false),
                measured_column(pen, card, 0, 0, widths[1], false), why_column(pen, card, 0, 0, widths[2], false)});
  return kPad + kHead + kPictures + kCaption + lower + kPad;
}

void pdf_card(PdfFlow& flow, const ReportCard& card, double repaint_below) {
  PdfPen& pen = flow.pen();
  const double inside = flow.width() - 2 * kPad;
  const std::array<double, 3> widths = column_widths(flow);
  const double high = pdf_card_height(flow, card, repaint_below);
  flow.room(high);
  flow.mark(card.id + " " + card.title, anchor(card.id));
  const double x = flow.left() + kPad, top = flow.y;
  pen.frame(flow.left(), top, flow.width(), high, kPage.edge, 0.8);
  pen.rect(flow.left(), top, 3, high, action_ink(kPage, card.action));
  const std::string id = safe_text(cut_short(card.id, 24)) + "  " + card.title;
  pen.text(x, top + kPad - 3, inside, id, {11.5, true});
  pen.text(x + pen.natural_width(id, {11.5, true}) + 10, top + kPad, inside,
           fmt::format("{} \u00b7 rank {}, priority {} of 100", card.about, card.rank, number(100 * card.priority, 0)),
           {8.2, false, false, kPage.quiet_ink});
  const Ink ink = action_ink(kPage, card.action);
  const double verdict = pen.natural_width(card.action_words, {10.5, true});
  pen.drawing(x + inside - verdict - 14, top + kPad - 0.5, 10.5, action_sign(card.action));
  pen.text(x + inside - verdict, top + kPad - 2.5, verdict + 2, card.action_words, {10.5, true, false, ink});
  pictures(pen, card, x, top + kPad + kHead - 6, widths);
  const double under = top + kPad + kHead + kPictures + kCaption - 4;
  seen_column(pen, card, repaint_below, x, under, widths[0], true);
  measured_column(pen, card, x + widths[0] + kGap, under, widths[1], true);
  why_column(pen, card, x + widths[0] + widths[1] + 2 * kGap, under, widths[2], true);
  flow.y = top + high + 9;
}

}  // namespace lotwear
