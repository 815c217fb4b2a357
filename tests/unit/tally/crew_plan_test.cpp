#include "tally/crew_plan.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "support/sample_survey.hpp"

namespace lotwear {
namespace {

using samples::peeling_arrow;
using samples::stall_line;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

Rates example_rates() { return load_rates(std::filesystem::path(LOTWEAR_MODELS) / "rates.json"); }

Survey lot_of(int lines, int arrows) {
  Survey survey = samples::small_lot();
  survey.markings.clear();
  for (int i = 0; i < lines; ++i)
    survey.markings.push_back(stall_line("L" + std::to_string(i)));
  for (int i = 0; i < arrows; ++i)
    survey.markings.push_back(peeling_arrow("A" + std::to_string(i)));
  return survey;
}

CrewPlan plan_of(const Survey& survey, const Rates& rates) {
  return crew_plan(work_of(survey, rates, BidOption::needs_work), rates, Units::us_customary);
}

double busy_h(const CrewPlan& plan, Task task) {
  double hours = 0;
  for (const TaskSpan& span : plan.spans)
    hours += span.task == task ? span.to_h - span.from_h : 0;
  return hours;
}

TEST(CrewPlan, GrindsOneMarkingWhileAnotherDries) {
  Rates rates = example_rates();
  rates.crew.people = 1;
  const CrewPlan plan = plan_of(lot_of(0, 6), rates);
  const auto first_wait =
      std::find_if(plan.spans.begin(), plan.spans.end(), [](const TaskSpan& span) { return span.task == Task::wait; });
  ASSERT_NE(first_wait, plan.spans.end());
  bool overlaps = false;
  for (const TaskSpan& span : plan.spans) {
    const bool work = span.task != Task::wait && span.task != Task::set_up && span.task != Task::pack_up;
    overlaps |= work && span.from_h < first_wait->to_h && span.to_h > first_wait->from_h;
  }
  EXPECT_TRUE(overlaps);
  EXPECT_LT(plan.on_site_h, plan.one_by_one_h - 0.5) << "waits are worked through";
}

TEST(CrewPlan, NeverShorterThanTheWorkSharedOutNorLongerThanOneAfterAnother) {
  for (const int people : {1, 2, 3, 5}) {
    for (const int arrows : {0, 1, 4, 12}) {
      Rates rates = example_rates();
      rates.crew.people = people;
      const Survey lot = lot_of(10, arrows);
      const Estimate sum = estimate(lot, rates, Units::us_customary);
      const CrewPlan plan = plan_of(lot, rates);
      const double ends = plan.days * (rates.crew.set_up_h + rates.crew.pack_up_h);
      EXPECT_GE(plan.on_site_h, ends + sum.person_h / people - 1e-9) << people << " people, " << arrows << " arrows";
      EXPECT_LE(plan.on_site_h, plan.one_by_one_h + 1e-9);
    }
  }
}

TEST(CrewPlan, OneGrinderServesOneAtATime) {
  Rates rates = example_rates();
  rates.crew.people = 6;
  const Survey lot = lot_of(0, 12);
  const Estimate sum = estimate(lot, rates, Units::us_customary);
  EXPECT_GE(busy_h(plan_of(lot, rates), Task::grind), sum.quantities.at(0).grind_h - 0.2);
  rates.crew.grinders = 3;
  EXPECT_LT(busy_h(plan_of(lot, rates), Task::grind), sum.quantities.at(0).grind_h / 2);
}

TEST(CrewPlan, MorePeopleAreNeverMuchSlowerAndTwoBeatOne) {
  Rates rates = example_rates();
  const Survey lot = lot_of(20, 8);
  rates.crew.people = 1;
  const double one = plan_of(lot, rates).on_site_h;
  rates.crew.people = 2;
  EXPECT_LT(plan_of(lot, rates).on_site_h, one);
}

TEST(CrewPlan, ALongJobRunsOverDaysWhichAllSetUpAndPackUp) {
  Rates rates = example_rates();
  rates.crew.people = 1;
  const CrewPlan plan = plan_of(lot_of(0, 60), rates);
  EXPECT_GT(plan.days, 1);
  EXPECT_EQ(plan.day_h.size(), static_cast<std::size_t>(plan.days));
  for (int day = 1; day <= plan.days; ++day) {
    int set_ups = 0, pack_ups = 0;
    for (const TaskSpan& span : plan.spans) {
      if (span.day != day) continue;
      set_ups += span.task == Task::set_up;
      pack_ups += span.task == Task::pack_up;
      EXPECT_LE(span.from_h, span.to_h);
    }
    EXPECT_EQ(set_ups, 1);
    EXPECT_EQ(pack_ups, 1);
  }
  for (const double hours : plan.day_h)
    EXPECT_LE(hours, rates.crew.day_h + rates.drying_h + 0.5) << "drying may outlast the day, work may not";
}

TEST(CrewPlan, HoursByTaskAddUpToTheEstimates) {
  const Survey lot = lot_of(6, 3);
  const Rates rates = example_rates();
  const Estimate sum = estimate(lot, rates, Units::us_customary);
  double hours = 0, ends = 0;
  for (const auto& [task, of_one] : sum.plan.person_h)
    (task == Task::set_up || task == Task::pack_up ? ends : hours) += of_one;
  EXPECT_NEAR(hours, sum.person_h, 1e-9);
  EXPECT_NEAR(ends, rates.crew.people * (rates.crew.set_up_h + rates.crew.pack_up_h), 1e-9);
}

TEST(CrewPlan, CountsWhatIsClosed) {
  const CrewPlan plan = plan_of(lot_of(3, 2), example_rates());
  EXPECT_EQ(plan.bays, 3);   // stall lines
  EXPECT_EQ(plan.lanes, 2);  // arrows, by "other"
}

TEST(CrewPlan, NothingToDoTakesNoDay) {
  const CrewPlan plan = plan_of(lot_of(0, 0), example_rates());
  EXPECT_EQ(plan.days, 0);
  EXPECT_THAT(plan.spans, IsEmpty());
  EXPECT_EQ(plan.on_site_h, 0);
}

TEST(CrewPlan, PrintsTheLimitsOfTheWeather) {
  const CrewPlan plan = plan_of(lot_of(1, 0), example_rates());
  ASSERT_EQ(plan.weather.size(), 3U);
  EXPECT_THAT(plan.weather[0], HasSubstr("from 50 \u00b0F to 95 \u00b0F"));
  EXPECT_THAT(plan.weather[1], HasSubstr("5 \u00b0F above the dew point"));
  EXPECT_THAT(plan.weather[2], HasSubstr("No rain for 12 h before painting and for 1 h after it"));
}

}  // namespace
}  // namespace lotwear
