#include "views/report_html.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "views/html_text.hpp"
#include "views/report_drawings.hpp"
#include "views/report_html_parts.hpp"
#include "views/report_style.hpp"
#include "views/report_words.hpp"

namespace lotwear {

namespace {

const char* action_class(Action action) {
  switch (action) {
    case Action::repaint:
      return "repaint";
    case Action::grind_and_repaint:
      return "grind";
    default:
      return "leave";
  }
}

std::string link_to(const ReportCard& card, const std::string& inside) {
  return fmt::format("<a href=\"#{}\">{}</a>", anchor(card.id), inside);
}

std::string action_words(Action action, const std::string& words) {
  return fmt::format("<span class=\"nowrap {}\">{}{}</span>", action_class(action), svg_of(action_sign(action)),
                     escape(words));
}

std::string cover(const ReportContent& content) {
  std::string dashes;
  for (int i = 0; i < 24; ++i) {  // a row of painted dashes that wears thinner from left to right
    dashes += fmt::format("<rect x='{}' y='4' width='46' height='6' fill='currentColor' fill-opacity='{:.2f}'/>",
                          24 + i * 72, std::max(0.08, 0.95 - i * 0.045));
  }
  return fmt::format(
      "<header class=\"cover\"><div class=\"wide\">\n<p class=\"kicker\">Condition of the pavement markings</p>\n"
      "<h1>{}</h1>\n{}{}</div>\n<svg class='dashes' viewBox='0 0 1728 14' preserveAspectRatio='xMinYMid slice' "
      "aria-hidden='true' focusable='false'>{}</svg></header>\n",
      escape_name(content.title),
      content.copy_words.empty() ? "" : fmt::format("<p class=\"copy\">{}</p>\n", escape(content.copy_words)),
      facts_of(content.site, "site"), dashes);
}

std::string contents_list(const ReportContent& content) {
  std::string html = "<nav aria-label=\"Contents\"><div class=\"wide\"><ul>\n";
  const auto entry = [&](const char* id, const char* words) {
    html += fmt::format("<li><a href=\"#{}\">{}</a></li>", id, words);
  };
  entry("summary", "Summary");
  entry("order", "Order of work");
  if (content.plan) entry("plan", "Site plan");
  entry("evidence", "Evidence");
  if (!content.quantities.rows.empty() || content.prices)
    entry("work", content.prices ? "Quantities and price" : "Quantities");
  if (!content.options.empty()) entry("options", "Options");
  if (content.schedule) entry("crew", "Crew plan");
  if (content.margin || content.workings) entry("margin", "Costs and workings");
  entry("method", "Method and limits");
  entry("cautions", "Cautions");
  entry("photos", "Photos");
  if (!content.problems.empty()) entry("problems", "Problems");
  if (content.signature) entry("signature", "Signatures");
  return html + "</ul></div></nav>\n";
}

std::string cause_key() {
  std::string html = "<ul class=\"key\">";
  for (const Spot spot : {Spot::paint, Spot::abraded, Spot::flaked, Spot::cracked}) {
    html += fmt::format("<li>{}{}</li>", svg_of(swatch(spot)), loss_words(spot));
  }
  return html + "</ul>\n";
}

std::string summary(const ReportContent& content) {
  std::string html = "<section aria-labelledby=\"summary\">\n<h2 id=\"summary\">Summary</h2>\n<p class=\"lead\">";
  for (const std::string& sentence : content.summary)
    html += escape(sentence) + ' ';
  html += "</p>\n<ul class=\"counts\">\n";
  for (const ReportCount& count : content.counts) {
    html += fmt::format("<li class=\"{}\"><div class=\"many\">{}</div><div class=\"what\">{}{}</div><p>{}</p>{}</li>\n",
                        action_class(count.action), count.count, svg_of(action_sign(count.action)), escape(count.words),
                        escape(count.meaning),
                        count.area.empty() ? "" : fmt::format("<p class=\"quiet\">{}</p>", escape(count.area)));
  }
  html += "</ul>\n";
  if (content.cards.empty()) return html + "</section>\n";
  html +=
      "<h3>All markings at a glance</h3>\n<p>Each stripe is one marking, in order of work: what is left of its paint "
      "from the bottom up, and above it how the rest went.</p>\n" +
      cause_key() + "<ol class=\"glance\">\n";
  for (const ReportCard& card : content.cards) {
    const std::string label =
        fmt::format("{}, {}: {}, {} left", card.id, card.name, card.action_words, percent_words(card.remaining));
    html +=
        fmt::format("<li class=\"{}\"><a href=\"#{}\" aria-label=\"{}\"><span class=\"{}\">{}</span>{}{}</a></li>\n",
                    action_class(card.action), anchor(card.id), escape(label), action_class(card.action),
                    svg_of(action_sign(card.action)), svg_of(stripe(card)), escape_name(card.id));
  }
  return html + "</ol>\n</section>\n";
}

std::string order_of_work(const ReportContent& content) {
  std::string html =
      "<section aria-labelledby=\"order\">\n<h2 id=\"order\">Order of work</h2>\n<div class=\"scroll\" tabindex=\"0\" "
      "role=\"region\" aria-label=\"Markings in order of work\"><table>\n<caption>Where the money does the most good "
      "first: "
      "how badly a marking is worn, times what its absence does.</caption>\n<thead><tr><th scope=\"col\" "
      "class=\"n\">Rank</th>"
      "<th scope=\"col\">Marking</th><th scope=\"col\">Work</th><th scope=\"col\" class=\"n\">Paint left</th>"
      "<th scope=\"col\">Largest loss</th><th scope=\"col\" class=\"n\">Area</th><th scope=\"col\" "
      "class=\"n\">Priority</th>"
      "</tr></thead>\n<tbody>\n";
  for (const ReportCard& card : content.cards) {
    html += fmt::format(
        "<tr><td class=\"n\">{}</td><th scope=\"row\">{} {} <span class=\"quiet\">{}</span></th><td>{}{}</td>"
        "<td class=\"n\"><span class=\"nowrap\">{} ({}\u2013{})</span></td><td class=\"nowrap\">{}</td><td class=\"n "
        "nowrap\">{}</td>"
        "<td class=\"n\">{}</td></tr>\n",
        card.rank, link_to(card, escape_name(card.id)), escape(card.title), escape(card.about),
        action_words(card.action, card.action_words),
        card.review_words.empty() ? "" : "<br><span class=\"quiet\">a person should look</span>",
        percent_words(card.remaining), number(card.low, 0), number(card.high, 0), escape(card.main_loss),
        escape(card.area), number(100 * card.priority, 0));
  }
  html += "</tbody></table></div>\n";
  if (!content.not_counted.empty()) {
    html += "<h3>Seen twice, counted once</h3>\n" + list_of(content.not_counted);
  }
  return html + "</section>\n";
}

std::string figure(const ReportPicture& picture) {
  const std::string inside =
      picture.bytes.empty()
          ? fmt::format("<p class=\"missing\">{}</p>", escape(picture.missing))
          : fmt::format("<img src=\"data:{};base64,{}\" width=\"{}\" height=\"{}\" alt=\"{}\">", picture.media_type,
                        base64(picture.bytes), picture.width, picture.height, escape(picture.alt));
  return fmt::format("<figure><div class=\"mat\">{}</div><figcaption>{}</figcaption></figure>\n", inside,
                     escape(picture.caption));
}

std::string loss_key(const ReportCard& card) {
  std::string html = "<ul class=\"key\">";
  for (const ReportShare& share : card.shares) {
    if (share.percent < 0.05 && share.spot != Spot::paint) continue;
    html += fmt::format("<li>{}{} {}\u00a0%</li>", svg_of(swatch(share.spot)), escape(share.words),
                        number(share.percent, 1));
  }
  return html + "</ul>\n";
}

std::string evidence_card(const ReportCard& card, double repaint_below) {
  std::string html = fmt::format(
      "<article class=\"card\" aria-labelledby=\"{0}\">\n<header><h3 id=\"{0}\">{1} {2}</h3>"
      "<p class=\"quiet\">{3} \u00b7 rank {4}, priority {5} of 100</p><p class=\"verdict\">{6}</p></header>\n",
      anchor(card.id), escape_name(card.id), escape(card.title), escape(card.about), card.rank,
      number(100 * card.priority, 0), action_words(card.action, card.action_words));
  html += "<div class=\"pictures\">\n" + figure(card.photo) + figure(card.plan) + figure(card.loss) + "</div>\n";
  html += "<div class=\"thirds\"><div>\n";
  html += fmt::format("<p class=\"left\">{}</p>\n{}\n{}", escape(card.remaining_words),
                      svg_of(gauge(card, repaint_below)), loss_key(card));
  if (!card.review_words.empty()) {
    html += fmt::format("<p class=\"flag\"><b>To be looked at.</b> {}</p>\n", escape(card.review_words));
  }
  for (const std::string& caution : card.cautions) {
    html += fmt::format("<p class=\"flag grind-flag\"><b>Caution.</b> {}</p>\n", escape(caution));
  }
  html += fmt::format("<h4>Who says so</h4>\n<p>{}</p>\n", escape(card.standing));
  if (card.note) html += fmt::format("<p class=\"note\">Note: {}</p>\n", escape_name(*card.note));
  html += "</div><div>\n<h4>Measured</h4>\n" + facts_of(card.facts, "facts") + "</div><div>\n";
  html += "<h4>Why</h4>\n" +
          (card.reasons.empty() ? std::string("<p>No reason was recorded.</p>\n") : list_of(card.reasons));
  html += fmt::format("<h4>If it waits</h4>\n<p>{}</p>\n", escape(card.if_it_waits));
  return html + "</div></div>\n</article>\n";
}

std::string work(const ReportContent& content) {
  if (content.quantities.rows.empty() && !content.prices) return "";
  std::string html = fmt::format("<section aria-labelledby=\"work\">\n<h2 id=\"work\">{}</h2>\n",
                                 content.prices ? "Quantities and price" : "Quantities");
  if (content.price_warning) {
    html += fmt::format("<p class=\"flag\"><b>Example rates.</b> {}</p>\n", escape(*content.price_warning));
  }
  if (!content.quantities.rows.empty()) html += table_of(content.quantities, "What there is to do", {});
  if (content.prices) html += table_of(*content.prices, "What it costs", content.totals);
  for (const std::string& sentence : content.work_summary)
    html += fmt::format("<p>{}</p>\n", escape(sentence));
  return html + list_of(content.work_notes) + "</section>\n";
}

std::string guides(const char* id, const char* title, const std::vector<ReportSection>& sections) {
  std::string html =
      fmt::format("<section aria-labelledby=\"{0}\">\n<h2 id=\"{0}\">{1}</h2>\n<div class=\"guides\">\n", id, title);
  for (const ReportSection& section : sections) {
    html += fmt::format("<section><h3>{}</h3>\n", escape(section.title));
    for (const std::string& paragraph : section.paragraphs)
      html += fmt::format("<p>{}</p>\n", escape(paragraph));
    html += list_of(section.points);
    if (!section.source.empty()) html += fmt::format("<p class=\"source\">Figures: {}.</p>\n", escape(section.source));
    html += "</section>\n";
  }
  return html + "</div>\n</section>\n";
}

std::string photo_log(const ReportContent& content) {
  std::string html =
      "<section aria-labelledby=\"photos\">\n<h2 id=\"photos\">Photos</h2>\n<div class=\"scroll\" tabindex=\"0\" "
      "role=\"region\" "
      "aria-label=\"Photo log\"><table>\n<caption>Every photo as it came. The SHA-256 sum is a fingerprint of the "
      "file: a photo "
      "that was changed by one byte has another.</caption>\n<thead><tr><th scope=\"col\">File</th><th "
      "scope=\"col\">Taken</th>"
      "<th scope=\"col\">Position</th><th scope=\"col\">Plane and scale from</th><th scope=\"col\">Markings</th>"
      "<th scope=\"col\">SHA-256</th></tr></thead>\n<tbody>\n";
  for (const ReportPhoto& photo : content.photos) {
    std::string advice;
    for (const std::string& line : photo.advice)
      advice += "<br><span class=\"quiet\">" + escape_name(line) + "</span>";
    html += fmt::format(
        "<tr><th scope=\"row\">{}<br><span class=\"quiet nowrap\">{}</span></th><td "
        "class=\"nowrap\">{}</td><td>{}</td><td>{}{}</td>"
        "<td>{}</td><td class=\"hash\">{}</td></tr>\n",
        escape_name(photo.file), escape(photo.pixels), escape_name(photo.taken), escape(photo.position),
        escape_name(photo.plane), advice, escape_name(photo.markings), escape(photo.sha256));
  }
  return html + "</tbody></table></div>\n</section>\n";
}

std::string problems(const ReportContent& content) {
  if (content.problems.empty()) return "";
  std::string html =
      "<section aria-labelledby=\"problems\">\n<h2 id=\"problems\">Problems</h2>\n<p>What could not be used or "
      "measured.</p>\n"
      "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Problems\"><table>\n<thead><tr><th "
      "scope=\"col\">File</th>"
      "<th scope=\"col\">What happened</th></tr></thead>\n<tbody>\n";
  for (const Problem& problem : content.problems) {
    html += fmt::format("<tr><th scope=\"row\">{}</th><td>{}</td></tr>\n", escape_name(problem.file),
                        escape_name(problem.what));
  }
  return html + "</tbody></table></div>\n</section>\n";
}

}  // namespace

std::string report_html(const ReportContent& content) {
  std::string html = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src "
      "'unsafe-inline'\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
      "<meta name=\"color-scheme\" content=\"light dark\">\n<meta name=\"generator\" "
      "content=\"{}\">\n<title>{}</title>\n<style>{}"
      "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#main\">Skip to the report</a>\n",
      escape(content.program), escape(content.title), report_style());
  html += pattern_definitions() + cover(content) + contents_list(content);
  html += "<main id=\"main\" tabindex=\"-1\" class=\"wide\">\n" + summary(content) + order_of_work(content) +
          site_plan_html(content);
  html += "<section aria-labelledby=\"evidence\">\n<h2 id=\"evidence\">Evidence</h2>\n";
  if (content.cards.empty()) html += "<p>There is none: no marking could be measured.</p>\n";
  for (const ReportCard& card : content.cards)
    html += evidence_card(card, content.repaint_below);
  html += "</section>\n" + work(content) + options_html(content) + schedule_html(content) + margin_html(content) +
          guides("method", "Method and limits", content.method) + guides("cautions", "Cautions", content.cautions) +
          photo_log(content) + problems(content) + signature_html(content);
  html += fmt::format(
      "</main>\n<footer><div class=\"wide\">Made by {} from the survey's measurements.</div></footer>\n"
      "</body>\n</html>\n",
      escape(content.program));
  return html;
}

}  // namespace lotwear
