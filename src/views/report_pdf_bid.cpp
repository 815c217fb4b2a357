#include <algorithm>

#include "views/report_pdf.hpp"

namespace lotwear {

namespace {

constexpr PageInks kPage = kLightPage;

/// One option in its column; answers its height.
double option_box(PdfPen& pen, const ReportOption& option, double x, double y, double w, bool draws) {
  double at = y;
  const auto put = [&](const std::string& words, const TextStyle& style, double after, double indent = 0) {
    at +=
        (draws ? pen.text(x + indent, at, w - indent, words, style) : pen.height_of(words, w - indent, style)) + after;
  };
  put(option.title, {10.5, true}, 1);
  put(option.total, {16, true}, 3);
  put(option.meaning, {8.4}, 4);
  put("Done: " + option.markings, {8.4}, 1);
  put("On site: " + option.hours, {8.4}, 1);
  put("Left undone: " + option.left, {8.4}, 4);
  if (!option.undone.empty()) put("If the rest waits", {8.6, true}, 1);
  constexpr std::size_t kMost = 12;
  for (std::size_t i = 0; i < std::min(kMost, option.undone.size()); ++i) {
    if (draws) pen.rect(x + 1, at + 4.2, 3.4, 1.7, kPage.ink);
    put(safe_text(option.undone[i]), {8}, 2, 8);
  }
  if (option.undone.size() > kMost) put("and more, named in the HTML report", {8, false, false, kPage.quiet_ink}, 2);
  if (option.chosen) put("The quantities and the price above are for this one.", {8, false, false, kPage.quiet_ink}, 0);
  return at - y;
}

}  // namespace

void pdf_options(PdfFlow& flow, const ReportContent& content) {
  if (content.options.empty()) return;
  PdfPen& pen = flow.pen();
  constexpr double kGap = 10, kPad = 9;
  const auto count = static_cast<double>(content.options.size());
  const double wide = (flow.width() - kGap * (count - 1)) / count;
  double high = 0;
  for (const ReportOption& option : content.options)
    high = std::max(high, option_box(pen, option, 0, 0, wide - 2 * kPad, false) + 2 * kPad);
  flow.section("Options", "s-options", high + 20);
  flow.paragraph("The same survey, priced in different ways. What is left undone is said with each.");
  double x = flow.left();
  for (const ReportOption& option : content.options) {
    pen.frame(x, flow.y, wide, high, option.chosen ? kPage.ink : kPage.edge, option.chosen ? 2 : 0.6);
    option_box(pen, option, x + kPad, flow.y + kPad, wide - 2 * kPad, true);
    x += wide + kGap;
  }
  flow.space(high + 8);
}

void pdf_schedule(PdfFlow& flow, const ReportContent& content) {
  if (!content.schedule) return;
  const ReportSchedule& schedule = *content.schedule;
  const auto bar_high = [&](const Drawing& bar) { return bar.height * flow.width() / bar.width; };
  const double first = schedule.days.empty() ? 0 : bar_high(schedule.days.front());
  flow.section("Crew plan", "s-crew", 60 + first);
  for (const std::string& sentence : schedule.sentences)
    flow.paragraph(sentence);
  for (std::size_t day = 0; day < schedule.days.size(); ++day) {
    if (schedule.days.size() > 1) flow.heading("Day " + std::to_string(day + 1), bar_high(schedule.days[day]));
    flow.figure(schedule.days[day]);
  }
  flow.table("Hours by task", pdf_table(schedule.tasks), 8.2);
  if (!schedule.weather.empty()) {
    flow.heading("Weather", 60);
    flow.points(schedule.weather);
  }
  if (schedule.coldest) {
    flow.space(6);
    flow.table("Coldest pavement that may be painted, by air temperature and humidity", pdf_table(*schedule.coldest));
  }
}

void pdf_margin(PdfFlow& flow, const ReportContent& content) {
  if (!content.margin && !content.workings) return;
  flow.section("Costs and workings", "s-margin", 120);
  flow.flag("Not for the owner", content.copy_words + ".", kPage.grind_ink);
  if (content.margin) {
    flow.paragraph(content.margin->meaning);
    flow.table("What the job costs", pdf_table(content.margin->costs, content.margin->totals));
  }
  if (content.workings) flow.table("How every quantity came about", pdf_table(*content.workings), 7.2);
  if (content.price_workings) flow.table("How every price came about", pdf_table(*content.price_workings), 7.2);
}

void pdf_signature(PdfFlow& flow, const ReportContent& content) {
  if (!content.signature) return;
  PdfPen& pen = flow.pen();
  const ReportSignature& signature = *content.signature;
  flow.section("Signatures", "s-signature", 190);
  flow.paragraph(signature.statement);
  flow.space(4);
  for (const std::string& choice : signature.choices) {
    pen.frame(flow.left() + 1, flow.y + 1, 9, 9, kPage.ink, 1);
    pen.text(flow.left() + 18, flow.y, flow.width() - 18, choice, {9.6});
    flow.space(16);
  }
  const double gap = 30, wide = (flow.width() - gap) / 2;
  const double top = flow.y + 6;
  double x = flow.left();
  for (const std::string& party : signature.parties) {
    pen.text(x, top, wide, party, {10, true});
    double y = top + 40;
    for (const char* field : {"Name", "Signature", "Date"}) {
      pen.rule(x, y, x + wide, y, kPage.ink, 0.7);
      pen.text(x, y + 2, wide, field, {7.6, false, false, kPage.quiet_ink});
      y += 38;
    }
    x += wide + gap;
  }
  flow.y = top + 40 + 3 * 38;
}

}  // namespace lotwear
