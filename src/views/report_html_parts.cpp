#include "views/report_html_parts.hpp"

#include <fmt/format.h>

#include "views/html_text.hpp"
#include "views/report_words.hpp"

namespace lotwear {

std::string list_of(const std::vector<std::string>& points) {
  if (points.empty()) return "";
  std::string html = "<ul>";
  for (const std::string& point : points)
    html += "<li>" + escape(point) + "</li>";
  return html + "</ul>\n";
}

std::string facts_of(const std::vector<ReportFact>& facts, const char* kind) {
  std::string html = fmt::format("<dl class=\"{}\">", kind);
  const bool grouped = std::string(kind) != "facts";
  for (const ReportFact& fact : facts) {
    html += fmt::format("{}<dt>{}</dt><dd>{}</dd>{}", grouped ? "<div>" : "", escape(fact.name),
                        escape_name(fact.value), grouped ? "</div>" : "");
  }
  return html + "</dl>\n";
}

std::string table_of(const ReportTable& table, const std::string& caption, const std::vector<ReportFact>& totals) {
  std::string html = fmt::format(
      "<div class=\"scroll\" tabindex=\"0\" role=\"region\" "
      "aria-label=\"{0}\"><table>\n<caption>{0}</caption>\n<thead><tr>",
      escape(caption));
  const auto look = [&](std::size_t column) { return table.number.at(column) ? " class=\"n\"" : ""; };
  for (std::size_t i = 0; i < table.head.size(); ++i) {
    html += fmt::format("<th scope=\"col\"{}>{}</th>", look(i), escape(table.head[i]));
  }
  html += "</tr></thead>\n<tbody>\n";
  for (const auto& row : table.rows) {
    html += "<tr>";
    for (std::size_t i = 0; i < row.size(); ++i) {
      html += i == 0 ? fmt::format("<th scope=\"row\"{}>{}</th>", look(i), escape_name(row[i]))
                     : fmt::format("<td{}>{}</td>", look(i), escape_name(row[i]));
    }
    html += "</tr>\n";
  }
  html += "</tbody>";
  if (!totals.empty()) {
    html += "\n<tfoot>";
    for (const ReportFact& total : totals) {
      html += fmt::format("<tr><th scope=\"row\" colspan=\"{}\" class=\"n\">{}</th><td class=\"n\">{}</td></tr>",
                          table.head.size() - 1, escape(total.name), escape(total.value));
    }
    html += "</tfoot>";
  }
  return html + "</table></div>\n";
}

namespace {

std::string section_head(const char* id, const char* title) {
  return fmt::format("<section aria-labelledby=\"{0}\">\n<h2 id=\"{0}\">{1}</h2>\n", id, title);
}

std::string paragraphs(const std::vector<std::string>& sentences) {
  std::string html;
  for (const std::string& sentence : sentences)
    html += fmt::format("<p>{}</p>\n", escape(sentence));
  return html;
}

}  // namespace

std::string site_plan_html(const ReportContent& content) {
  if (!content.plan) return "";
  std::string html = section_head("plan", "Site plan") +
                     fmt::format("<figure class=\"drawing\">{}<figcaption>{}</figcaption></figure>\n",
                                 svg_of(content.plan->drawing), escape(content.plan->caption));
  if (!content.plan->without_position.empty()) {
    html += fmt::format("<p>Not on the plan, because their photos do not know where they were taken: {}.</p>\n",
                        escape_name(listed(content.plan->without_position)));
  }
  return html + "</section>\n";
}

std::string options_html(const ReportContent& content) {
  if (content.options.empty()) return "";
  std::string html = section_head("options", "Options") +
                     "<p>The same survey, priced in different ways. What is left undone is said with each.</p>\n"
                     "<ul class=\"options\">\n";
  for (const ReportOption& option : content.options) {
    html += fmt::format("<li{}><h3>{}</h3><p class=\"total\">{}</p><p>{}</p>", option.chosen ? " class=\"chosen\"" : "",
                        escape(option.title), escape(option.total), escape(option.meaning));
    html += facts_of({{"Done", option.markings}, {"On site", option.hours}, {"Left undone", option.left}}, "facts");
    if (!option.undone.empty()) html += "<h4>If the rest waits</h4>\n" + list_of(option.undone);
    if (option.chosen) html += "<p class=\"quiet\">The quantities and the price above are for this one.</p>";
    html += "</li>\n";
  }
  return html + "</ul>\n</section>\n";
}

std::string schedule_html(const ReportContent& content) {
  if (!content.schedule) return "";
  const ReportSchedule& schedule = *content.schedule;
  std::string html = section_head("crew", "Crew plan") + paragraphs(schedule.sentences);
  for (std::size_t day = 0; day < schedule.days.size(); ++day) {
    html += "<div class=\"keep\">";
    if (schedule.days.size() > 1) html += fmt::format("<h3>Day {}</h3>\n", day + 1);
    html += fmt::format("<figure class=\"drawing\">{}</figure></div>\n", svg_of(schedule.days[day]));
  }
  html += "<div class=\"pair\"><div>" + table_of(schedule.tasks, "Hours by task", {}) + "</div><div>";
  if (!schedule.weather.empty()) html += "<h3>Weather</h3>\n" + list_of(schedule.weather);
  if (schedule.coldest) {
    html += table_of(*schedule.coldest, "Coldest pavement that may be painted, by air temperature and humidity", {});
  }
  return html + "</div></div>\n</section>\n";
}

std::string margin_html(const ReportContent& content) {
  if (!content.margin && !content.workings) return "";
  std::string html = section_head("margin", "Costs and workings") +
                     fmt::format("<p class=\"flag\"><b>{}.</b></p>\n", escape(content.copy_words));
  if (content.margin) {
    html += fmt::format("<p>{}</p>\n", escape(content.margin->meaning)) +
            table_of(content.margin->costs, "What the job costs", content.margin->totals);
  }
  if (content.workings) html += table_of(*content.workings, "How every quantity came about", {});
  if (content.price_workings) html += table_of(*content.price_workings, "How every price came about", {});
  return html + "</section>\n";
}

std::string signature_html(const ReportContent& content) {
  if (!content.signature) return "";
  const ReportSignature& signature = *content.signature;
  std::string html = section_head("signature", "Signatures") +
                     fmt::format("<div class=\"keep\"><p>{}</p>\n<ul class=\"choices\">", escape(signature.statement));
  for (const std::string& choice : signature.choices)
    html += fmt::format("<li><span class=\"box\" aria-hidden=\"true\"></span>{}</li>", escape(choice));
  html += "</ul>\n<div class=\"sign-here\">";
  for (const std::string& party : signature.parties) {
    html += fmt::format("<div><h3>{}</h3>", escape(party));
    for (const char* field : {"Name", "Signature", "Date"})
      html += fmt::format("<p><span class=\"rule\"></span>{}</p>", field);
    html += "</div>";
  }
  return html + "</div></div>\n</section>\n";
}

}  // namespace lotwear
