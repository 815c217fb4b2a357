#include "marking/word_read.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <opencv2/imgproc.hpp>
#include <optional>

namespace lotwear {

namespace {

// How much of a word is left is not known: every word is tried as whole, worn and very worn. What a pixel says is the
// log of how likely it is under a stroke of such a word over how likely it is beside.
constexpr double kPaintBeside = 0.12;  // other alphabets, blur, specks
constexpr std::array kLeft = {0.9, 0.65, 0.4};

constexpr std::array kWidths = {0.1, 0.14, 0.18, 0.23, 0.29, 0.37, 0.47, 0.6, 0.76, 0.95};  // over the height
constexpr std::size_t kFirstUsual = 3;                                                      // narrower ones are an I's
constexpr std::array kGaps = {0.06, 0.11, 0.17, 0.24, 0.32, 0.42};  // between letters, over their height
// Letters are set by eye, and some alphabets have wide and narrow ones: what a letter one width off costs, and a gap
// off by the height, of a letter's strokes.
constexpr double kOtherWidth = 0.04, kOtherGap = 0.5;
constexpr double kGapsDiffer = 0.35, kSetByEye = 0.05;  // of the gap; of the height
constexpr double kAnotherWord = 0.5;                    // costs as much as half a letter's strokes say
constexpr double kLeastSeen = 0.3, kMostStrange = 0.45, kLeastLead = 0.045;
constexpr double kShort = 0.12;  // more to be seen and less strange paint for a word of two letters

/// One letter's strokes as shares of pixels, in a box of its width.
cv::Mat drawn(const Letter& letter, char c, double width, double stroke, double height) {
  constexpr int kFiner = 4;
  const Shape one = word_shape(std::string(1, c), {letter});
  const cv::Size size(std::max(2, static_cast<int>(std::lround(width * height))),
                      std::max(4, static_cast<int>(std::lround(height))));
  cv::Mat fine(size * kFiner, CV_8U, cv::Scalar(0)), share;
  for (const GroundRing& ring : strokes_of(one, word_values(one, {width, 0.1, stroke, {}}))) {
    std::vector<cv::Point> polygon;
    for (const GroundPoint& p : ring)
      polygon.emplace_back(static_cast<int>(std::lround(p.x * height * kFiner)),
                           static_cast<int>(std::lround(p.y * height * kFiner)));
    cv::fillPoly(fine, std::vector<std::vector<cv::Point>>{polygon}, cv::Scalar(255));
  }
  cv::resize(fine, share, size, 0, 0, cv::INTER_AREA);
  share.convertTo(share, CV_32F, 1.0 / 255);
  return share;
}

/// What a letter of one width finds at every place along the row.
struct Response {
  int width = 0;             ///< columns
  std::vector<float> paint;  ///< under its strokes, its left side at each column
  std::vector<float> bare;   ///< bare pavement under them; what the photo does not show is neither
  float strokes = 0;         ///< area of its strokes, pixels
};
using Alphabet = std::map<char, std::array<Response, kWidths.size()>>;

class Row {
 public:
  explicit Row(const RowMap& row) : height_(row.height), cols_(row.paint.cols) {
    row.paint.copyTo(paint_, row.inside);
    row.inside.convertTo(shown_, CV_32F, 1.0 / 255);
    top_ = static_cast<int>(std::lround(row.top));
    sum_.assign(static_cast<std::size_t>(cols_) + 1, 0);
    const int from = std::max(0, top_ - 1),
              to = std::min(paint_.rows, top_ + static_cast<int>(std::lround(height_)) + 1);
    for (int c = 0; c < cols_; ++c)
      sum_[static_cast<std::size_t>(c) + 1] =
          sum_[static_cast<std::size_t>(c)] + static_cast<float>(cv::sum(paint_(cv::Rect(c, from, 1, to - from)))[0]);
  }

  int cols() const { return cols_; }
  double height() const { return height_; }
  /// Paint between two columns.
  double paint_between(double from, double to) const {
    const auto at = [&](double x) {
      return static_cast<double>(
          sum_[static_cast<std::size_t>(std::clamp(static_cast<int>(std::lround(x)), 0, cols_))]);
    };
    return at(to) - at(from);
  }
  Response response_of(const cv::Mat& strokes) const {
    Response response;
    response.width = strokes.cols;
    response.strokes = static_cast<float>(cv::sum(strokes)[0]);
    if (cols_ < strokes.cols) return response;
    constexpr int kUpDown = 1;
    const int from = std::clamp(top_ - kUpDown, 0, paint_.rows - strokes.rows),
              to = std::clamp(top_ + kUpDown, from, paint_.rows - strokes.rows);
    response.paint = under(strokes, paint_, from);
    for (int row = from + 1; row <= to; ++row) {
      const std::vector<float> here = under(strokes, paint_, row);
      for (std::size_t x = 0; x < here.size(); ++x)
        response.paint[x] = std::max(response.paint[x], here[x]);
    }
    const bool whole = cv::countNonZero(shown_) == static_cast<int>(shown_.total());
    response.bare = whole ? std::vector<float>(response.paint.size(), response.strokes) : under(strokes, shown_, from);
    for (std::size_t x = 0; x < response.bare.size(); ++x)
      response.bare[x] = std::max(0.0F, response.bare[x] - response.paint[x]);
    return response;
  }

 private:
  /// What of a map lies under strokes whose box begins at each column, in `row`. Strokes are thin: few pixels count.
  static std::vector<float> under(const cv::Mat& strokes, const cv::Mat& map, int row) {
    std::vector<float> sum(static_cast<std::size_t>(map.cols - strokes.cols + 1), 0.0F);
    for (int r = 0; r < strokes.rows; ++r) {
      for (int c = 0; c < strokes.cols; ++c) {
        const float share = strokes.at<float>(r, c);
        if (share <= 0) continue;
        const float* from = map.ptr<float>(row + r) + c;
        for (std::size_t x = 0; x < sum.size(); ++x)
          sum[x] += share * from[x];
      }
    }
    return sum;
  }

  double height_;
  int cols_, top_ = 0;
  cv::Mat paint_, shown_;
  std::vector<float> sum_;
};

struct Placed {
  std::size_t word = 0, usual = 0;  ///< of kWidths, the usual letter's
  double gap = 0;                   ///< over the height
  WordSetting setting;              ///< lefts counted from the row's first column
  double left = 0, right = 0;
  double said = -1e9, paint = 0, strokes = 0, between = 0;

  /// Many short words explain any strokes well enough; a sentence of few is the better one.
  double worth() const {
    return said - kAnotherWord * strokes / static_cast<double>(std::max<std::size_t>(1, setting.letters.size()));
  }
  double seen() const { return paint / std::max(1e-9, strokes); }
  double strange() const { return 1 - std::min(1.0, paint / std::max(1e-9, between)); }
};

/// One word's letters laid along the row, each where it and those before it say most together (Bellman's recursion).
class Laying {
 public:
  Laying(const Row& row, const Alphabet& alphabet, const std::string& text, std::size_t usual, double gap, double left)
      : row_(row),
        paint_says_(static_cast<float>(std::log(left / kPaintBeside))),
        bare_says_(static_cast<float>(std::log((1 - left) / (1 - kPaintBeside)))),
        usual_(usual),
        gap_(gap * row.height()),
        columns_(static_cast<std::size_t>(row.cols()) + 1) {
    for (const char c : text)
      letters_.push_back({&alphabet.at(c), c == 'I' ? 0 : usual - 1, std::min(usual + 1, kWidths.size() - 1)});
  }
  /// What the word says at the best place; the columns where its last letter ends are kept for `trace`.
  double best() {
    said_.assign(1, std::vector<float>(columns_, 0.0F));
    for (std::size_t i = 0; i < letters_.size(); ++i) {
      const std::vector<float> from = i == 0 ? said_[0] : after_gap(said_.back());
      std::vector<float> here(columns_, kNever);
      for (std::size_t k = letters_[i].narrowest; k <= letters_[i].widest; ++k) {
        const Response& r = (*letters_[i].drawn)[k];
        const float cost = width_cost(i, k);
        for (std::size_t left = 0; left < r.paint.size(); ++left) {
          float& end = here[left + static_cast<std::size_t>(r.width)];
          end = std::max(end, from[left] + said(r, left) - cost);
        }
      }
      said_.push_back(std::move(here));
    }
    return *std::max_element(said_.back().begin(), said_.back().end());
  }
  Placed trace(std::size_t word, double gap) const {
    Placed placed;
    placed.word = word, placed.usual = usual_, placed.gap = gap;
    auto end =
        static_cast<std::size_t>(std::max_element(said_.back().begin(), said_.back().end()) - said_.back().begin());
    placed.said = static_cast<double>(said_.back()[end]);
    placed.right = static_cast<double>(end);
    for (std::size_t i = letters_.size(); i-- > 0;) {
      const std::vector<float> from = i == 0 ? said_[0] : after_gap(said_[i]);
      std::size_t best_left = 0, best_k = letters_[i].widest;
      float best = kNever;
      for (std::size_t k = letters_[i].narrowest; k <= letters_[i].widest; ++k) {
        const Response& r = (*letters_[i].drawn)[k];
        const auto wide = static_cast<std::size_t>(r.width);
        if (end < wide || end - wide >= r.paint.size()) continue;
        const float here = from[end - wide] + said(r, end - wide) - width_cost(i, k);
        if (here > best) best = here, best_left = end - wide, best_k = k;
      }
      const Response& r = (*letters_[i].drawn)[best_k];
      placed.paint += static_cast<double>(r.paint[best_left]);
      placed.strokes += static_cast<double>(r.strokes);
      placed.setting.letters.insert(placed.setting.letters.begin(),
                                    {static_cast<double>(best_left) / row_.height(), r.width / row_.height()});
      placed.left = static_cast<double>(best_left);
      if (i > 0) end = before_gap(said_[i], best_left);
    }
    placed.between = row_.paint_between(placed.left - gap_ / 2, placed.right + gap_ / 2);
    return placed;
  }

 private:
  static constexpr float kNever = -1e9F;
  struct Choice {
    const std::array<Response, kWidths.size()>* drawn;
    std::size_t narrowest, widest;
  };
  float said(const Response& r, std::size_t left) const {
    return paint_says_ * r.paint[left] + bare_says_ * r.bare[left];
  }
  /// An I has any width up to the usual one for nothing: its box is its stroke, or as wide as a letter.
  float width_cost(std::size_t letter, std::size_t k) const {
    const Choice& choice = letters_[letter];
    const bool usual = k == usual_ || (choice.narrowest == 0 && k < usual_);
    return usual ? 0.0F : static_cast<float>(kOtherWidth) * (*choice.drawn)[k].strokes;
  }
  int reach() const { return static_cast<int>(std::lround(kGapsDiffer * gap_ + kSetByEye * row_.height())); }
  /// Best way from where a letter ended to where the next one begins.
  std::vector<float> after_gap(const std::vector<float>& ends) const {
    std::vector<float> from(columns_, kNever);
    for (int off = -reach(); off <= reach(); ++off) {
      const int gap = step() - off;
      if (gap < 0) continue;
      const float cost = off_cost(off);
      for (std::size_t x = static_cast<std::size_t>(gap); x < columns_; ++x)
        from[x] = std::max(from[x], ends[x - static_cast<std::size_t>(gap)] - cost);
    }
    return from;
  }
  /// Where the letter before ended, if the next one begins at `left`.
  std::size_t before_gap(const std::vector<float>& ends, std::size_t left) const {
    float best = kNever;
    std::size_t at = left;
    for (int off = -reach(); off <= reach(); ++off) {
      const int end = static_cast<int>(left) - step() + off;
      if (end < 0 || end > static_cast<int>(left)) continue;
      const float here = ends[static_cast<std::size_t>(end)] - off_cost(off);
      if (here > best) best = here, at = static_cast<std::size_t>(end);
    }
    return at;
  }
  int step() const { return static_cast<int>(std::lround(gap_)); }
  float off_cost(int off) const {
    const double strokes = static_cast<double>((*letters_.front().drawn)[usual_].strokes);
    return static_cast<float>(kOtherGap * std::abs(off) / row_.height() * strokes);
  }

  const Row& row_;
  float paint_says_, bare_says_;
  std::size_t usual_;
  double gap_;
  std::size_t columns_;
  std::vector<Choice> letters_;
  std::vector<std::vector<float>> said_;  ///< after no letter, the first, the second ..., by the column where it ends
};

Alphabet alphabet_for(const Row& row, const std::vector<Shape>& words, double stroke) {
  Alphabet all;
  for (const Shape& word : words) {
    for (std::size_t i = 0; i < word.text.size(); ++i) {
      const char c = word.text[i];
      if (all.contains(c)) continue;
      for (std::size_t k = 0; k < kWidths.size(); ++k) {
        if (kWidths[k] >= 1.6 * stroke || c == 'I')
          all[c][k] = row.response_of(drawn(word.letters[i], c, std::max(stroke, kWidths[k]), stroke, row.height()));
      }
    }
  }
  return all;
}

/// One word where it fits best, of the gaps and the wear that are tried.
template <std::size_t Gaps, std::size_t Lefts>
Placed placed_best(const Row& row, const Alphabet& alphabet, const std::vector<Shape>& words, std::size_t word,
                   double stroke, const std::array<double, Gaps>& gaps, const std::array<double, Lefts>& lefts) {
  Placed best;
  best.word = word;
  for (std::size_t usual = kFirstUsual; usual < kWidths.size(); ++usual) {
    if (kWidths[usual] < 2.5 * stroke) continue;
    for (const double gap : gaps) {
      for (const double left : lefts) {
        Laying laying(row, alphabet, words[word].text, usual, gap, left);
        if (laying.best() > best.said) best = laying.trace(word, gap);
      }
    }
  }
  best.setting.letter_width = kWidths[best.usual], best.setting.gap = best.gap, best.setting.stroke = stroke;
  return best;
}

/// Every word where it fits best; those that say most at first sight are looked at closely.
std::vector<Placed> places(const RowMap& map, const std::vector<Shape>& words) {
  constexpr std::array kFewGaps = {0.11, 0.27};
  constexpr std::array kHalfWorn = {kLeft[1]};
  constexpr std::size_t kClosely = 16;
  const Row row(map);
  const double stroke = std::clamp(map.stroke / map.height, 0.04, 0.25);
  const Alphabet alphabet = alphabet_for(row, words, stroke);
  std::vector<Placed> placed;
  for (std::size_t w = 0; w < words.size(); ++w)
    placed.push_back(placed_best(row, alphabet, words, w, stroke, kFewGaps, kHalfWorn));
  std::stable_sort(placed.begin(), placed.end(),
                   [](const Placed& a, const Placed& b) { return a.worth() > b.worth(); });
  for (std::size_t i = 0; i < std::min(kClosely, placed.size()); ++i)
    placed[i] = placed_best(row, alphabet, words, placed[i].word, stroke, kGaps, kLeft);
  return placed;
}

/// Two words of one row stand further apart than their letters do, and are set alike.
bool beside(const Placed& a, const Placed& b, double height) {
  constexpr double kApart = 0.15, kAlike = 1.35;  // of the height; times
  const double wider = std::max(a.setting.letter_width, b.setting.letter_width) /
                       std::min(a.setting.letter_width, b.setting.letter_width);
  return b.left - a.right > std::max(kApart, std::max(a.gap, b.gap)) * height && wider < kAlike;
}

bool believed(const Placed& one, const Shape& word) {
  const double more = word.text.size() < 3 ? kShort : 0;
  return one.worth() > 0 && one.seen() >= kLeastSeen + more && one.strange() <= kMostStrange - more;
}

/// Words side by side that together say most: the row as one sentence. `without` is not among them.
struct Sentence {
  std::vector<std::size_t> words;  ///< indices into what was placed
  double said = 0;
};
Sentence best_sentence(const std::vector<Placed>& by_end, double height, std::size_t without) {
  // the best up to and with each word, in the order of their ends
  std::vector<Sentence> up_to;
  Sentence best;
  for (std::size_t k = 0; k < by_end.size(); ++k) {
    Sentence here;
    if (by_end[k].word != without) {
      for (std::size_t m = 0; m < k; ++m) {
        if (beside(by_end[m], by_end[k], height) && up_to[m].said > here.said) here = up_to[m];
      }
      here.words.push_back(k), here.said += by_end[k].worth();
    }
    if (here.said > best.said) best = here;
    up_to.push_back(std::move(here));
  }
  return best;
}

struct Reading {
  std::vector<ReadWord> words;
  double said = 0;
};
Reading read_one_way(const RowMap& map, const std::vector<Shape>& words) {
  constexpr std::size_t kNone = static_cast<std::size_t>(-1);
  std::vector<Placed> placed = places(map, words);
  std::erase_if(placed, [&](const Placed& one) { return !believed(one, words[one.word]); });
  std::stable_sort(placed.begin(), placed.end(), [](const Placed& a, const Placed& b) { return a.right < b.right; });
  const Sentence sentence = best_sentence(placed, map.height, kNone);
  Reading reading;
  for (const std::size_t k : sentence.words) {
    const Placed& one = placed[k];
    const Shape& word = words[one.word];
    ReadWord read;
    read.word = one.word, read.left = one.left, read.right = one.right;
    read.values = word_values(word, one.setting);
    read.seen = one.seen(), read.strange = one.strange();
    read.lead = (sentence.said - best_sentence(placed, map.height, one.word).said) / one.strokes;
    if (read.lead < kLeastLead) continue;
    reading.words.push_back(std::move(read));
  }
  reading.said = sentence.said;
  return reading;
}

}  // namespace

std::vector<ReadWord> read_row(const RowMap& row, const std::vector<Shape>& words) {
  RowMap turned{{}, {}, row.paint.rows - row.top - row.height, row.height, row.stroke};
  cv::flip(row.paint, turned.paint, -1);
  cv::flip(row.inside, turned.inside, -1);
  Reading upright = read_one_way(row, words), head_down = read_one_way(turned, words);
  std::vector<ReadWord>& read = upright.said >= head_down.said ? upright.words : head_down.words;
  if (upright.said < head_down.said) {
    for (ReadWord& word : read) {
      word.head_down = true;
      const double left = row.paint.cols - word.right;
      word.right = row.paint.cols - word.left, word.left = left;
    }
  }
  std::sort(read.begin(), read.end(), [](const ReadWord& a, const ReadWord& b) { return a.left < b.left; });
  return read;
}

}  // namespace lotwear
