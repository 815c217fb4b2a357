#include "tally/crew_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr double kPieceH = 0.5;     // a longer task is cut into pieces, which several people can take
constexpr double kSoon = 1e-9;      // hours; sums of thirds of an hour meet again within this
constexpr double kGapH = 1.0 / 60;  // a minute: shorter gaps are walking to the next marking

struct Stage {
  Task task = Task::clean;
  int pieces = 1;
  double piece_h = 0;  ///< of one person; a wait has one piece and takes nobody
};

/// One marking on its way through its stages.
struct Path {
  std::vector<Stage> stages;
  std::size_t at = 0;
  int started = 0, running = 0;
  double ready = 0;  ///< hours since the day began

  bool done() const { return at >= stages.size(); }
  double left_h() const {
    double sum = 0;
    for (std::size_t i = at; i < stages.size(); ++i)
      sum += stages[i].piece_h * (i == at ? stages[i].pieces - started : stages[i].pieces);
    return sum;
  }
};

struct Running {
  double until = 0;
  std::size_t path = 0;
  Task task = Task::clean;
};

Path path_of(const Amounts& amounts, const Rates& rates) {
  Path path;
  const auto add = [&](Task task, double hours) {
    if (hours <= 0) return;
    const int pieces = task == Task::wait ? 1 : std::max(1, static_cast<int>(std::ceil(hours / kPieceH)));
    path.stages.push_back({task, pieces, hours / pieces});
  };
  add(Task::grind, amounts.grind_h);
  add(Task::collect, amounts.collect_h);
  add(Task::clean, amounts.clean_h);
  add(Task::dry, amounts.dry_h);
  add(Task::mask, amounts.mask_h);
  add(Task::prime, amounts.prime_h);
  if (amounts.prime_h > 0) add(Task::wait, rates.primer->drying_h);
  for (int coat = 0; coat < rates.coats && amounts.paint_h > 0; ++coat) {
    add(Task::paint, amounts.paint_h / rates.coats);
    add(Task::wait, rates.drying_h);
  }
  return path;
}

/// The crew at work, a day at a time; event after event.
class Site {
 public:
  Site(const Work& work, const Rates& rates) : rates_(rates) {
    for (const MarkingWork& marking : work.markings) {
      if (marking.action == Action::no_action) continue;
      Path path = path_of(marking.amounts, rates);
      if (!path.stages.empty()) paths_.push_back(std::move(path));
    }
  }

  CrewPlan run() {
    const Crew& crew = rates_.crew;
    plan_.people = crew.people;
    constexpr int kMostDays = 2000;
    while (!all_done() && plan_.days < kMostDays)
      run_day();
    if (!all_done()) throw Failure("the crew plan runs over more than 2000 days; check the paces in the rates");
    for (const double day : plan_.day_h)
      plan_.on_site_h += day;
    return std::move(plan_);
  }

 private:
  bool all_done() const {
    return std::all_of(paths_.begin(), paths_.end(), [](const Path& path) { return path.done(); });
  }

  void run_day() {
    const Crew& crew = rates_.crew;
    ++plan_.days;
    add_span(Task::set_up, 0, crew.set_up_h);
    double now = crew.set_up_h, last = now;
    for (Path& path : paths_)
      path.ready = now;  // what dried over night is dry
    while (true) {
      while (start_one(now)) {
      }
      const double next = next_event(now);
      if (next < 0) break;
      now = next;
      last = std::max(last, now);
      finish(now);
    }
    add_span(Task::pack_up, last, last + crew.pack_up_h);
    plan_.day_h.push_back(last + crew.pack_up_h);
  }

  bool machine_free(Task task) const {
    const auto busy = std::count_if(running_.begin(), running_.end(), [&](const Running& r) { return r.task == task; });
    if (task == Task::grind) return busy < rates_.crew.grinders;
    return task != Task::paint || busy < rates_.crew.sprayers;
  }

  /// Starts the most urgent task that is ready; false when there is nobody, no machine, or no time left today.
  bool start_one(double now) {
    const auto people_busy =
        std::count_if(running_.begin(), running_.end(), [](const Running& r) { return r.task != Task::wait; });
    const double day_end = rates_.crew.day_h - rates_.crew.pack_up_h;
    std::size_t best = paths_.size();
    double longest = -1;
    for (std::size_t i = 0; i < paths_.size(); ++i) {
      const Path& path = paths_[i];
      if (path.done() || path.ready > now + kSoon) continue;
      const Stage& stage = path.stages[path.at];
      if (path.started >= stage.pieces) continue;
      const bool waits = stage.task == Task::wait;
      if (!waits && (people_busy >= rates_.crew.people || !machine_free(stage.task))) continue;
      const bool fits = now + stage.piece_h <= day_end + kSoon || now <= rates_.crew.set_up_h + kSoon;
      if (!waits && !fits) continue;
      const double left = waits ? std::numeric_limits<double>::max() : path.left_h();
      if (left > longest + kSoon) longest = left, best = i;
    }
    if (best == paths_.size()) return false;
    Path& path = paths_[best];
    const Stage& stage = path.stages[path.at];
    ++path.started, ++path.running;
    running_.push_back({now + stage.piece_h, best, stage.task});
    add_span(stage.task, now, now + stage.piece_h);
    return true;
  }

  /// Nothing runs and nothing can start today: below zero.
  double next_event(double) const {
    double next = -1;
    for (const Running& one : running_)
      next = next < 0 ? one.until : std::min(next, one.until);
    return next;
  }

  void finish(double now) {
    for (std::size_t i = 0; i < running_.size();) {
      if (running_[i].until > now + kSoon) {
        ++i;
        continue;
      }
      Path& path = paths_[running_[i].path];
      running_.erase(running_.begin() + static_cast<std::ptrdiff_t>(i));
      if (--path.running == 0 && path.started == path.stages[path.at].pieces) {
        ++path.at;
        path.started = 0;
        path.ready = now;
      }
    }
  }

  void add_span(Task task, double from, double to) {
    if (to > from) plan_.spans.push_back({task, plan_.days, from, to});
  }

  const Rates& rates_;
  std::vector<Path> paths_;
  std::vector<Running> running_;
  CrewPlan plan_;
};

/// Spans of one task that touch or overlap become one; by day, task and time.
std::vector<TaskSpan> merged(std::vector<TaskSpan> spans) {
  std::sort(spans.begin(), spans.end(), [](const TaskSpan& a, const TaskSpan& b) {
    return std::tie(a.day, a.task, a.from_h, a.to_h) < std::tie(b.day, b.task, b.from_h, b.to_h);
  });
  std::vector<TaskSpan> all;
  for (const TaskSpan& span : spans) {
    const bool joins = !all.empty() && all.back().day == span.day && all.back().task == span.task &&
                       span.from_h <= all.back().to_h + kGapH;
    if (joins) {
      all.back().to_h = std::max(all.back().to_h, span.to_h);
    } else {
      all.push_back(span);
    }
  }
  return all;
}

/// One after another, by one person at a time, every wait waited out.
double without_overlap(const Work& work, const Rates& rates, int days) {
  double hours = days * (rates.crew.set_up_h + rates.crew.pack_up_h);
  for (const MarkingWork& marking : work.markings) {
    if (marking.action == Action::no_action) continue;
    for (const Stage& stage : path_of(marking.amounts, rates).stages)
      hours += stage.pieces * stage.piece_h;
  }
  return hours;
}

std::vector<std::pair<Task, double>> hours_by_task(const Work& work, const Rates& rates, int days) {
  Amounts sum;
  for (const MarkingWork& marking : work.markings)
    sum += marking.amounts;
  const double each_day = static_cast<double>(days) * rates.crew.people;
  const std::vector<std::pair<Task, double>> all = {{Task::set_up, each_day * rates.crew.set_up_h},
                                                    {Task::grind, sum.grind_h},
                                                    {Task::collect, sum.collect_h},
                                                    {Task::clean, sum.clean_h},
                                                    {Task::dry, sum.dry_h},
                                                    {Task::mask, sum.mask_h},
                                                    {Task::prime, sum.prime_h},
                                                    {Task::paint, sum.paint_h},
                                                    {Task::pack_up, each_day * rates.crew.pack_up_h}};
  std::vector<std::pair<Task, double>> taken;
  std::copy_if(all.begin(), all.end(), std::back_inserter(taken), [](const auto& one) { return one.second > 0; });
  return taken;
}

}  // namespace

CrewPlan crew_plan(const Work& work, const Rates& rates, Units units) {
  for (const MarkingWork& marking : work.markings) {
    constexpr double kMostH = 20'000;  // for one marking: ten people's year
    if (!(marking.amounts.hours() < kMostH)) {
      throw Failure(fmt::format(
          "{}: the hours are beyond any job; check its size in the survey and the paces in the rates", marking.id));
    }
  }
  CrewPlan plan = Site(work, rates).run();
  plan.spans = merged(std::move(plan.spans));
  plan.person_h = hours_by_task(work, rates, plan.days);
  plan.one_by_one_h = without_overlap(work, rates, plan.days);
  for (const MarkingWork& marking : work.markings) {
    if (marking.action == Action::no_action) continue;
    if (const auto closed = for_kind(rates.crew.closes, marking.kind)) {
      plan.bays += closed->bays;
      plan.lanes += closed->lanes;
    }
  }
  plan.weather = weather_limits(rates.weather, units);
  plan.coldest = coldest_pavement(rates.weather, units);
  return plan;
}

}  // namespace lotwear
