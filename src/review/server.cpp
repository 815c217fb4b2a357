#include <fmt/format.h>
#include <httplib.h>

#include <charconv>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "base/files.hpp"
#include "capture/bytes.hpp"
#include "review/gate.hpp"
#include "review/page_files.hpp"
#include "review/page_state.hpp"
#include "review/presence.hpp"
#include "review/review.hpp"
#include "views/html_text.hpp"
#include "views/report_pictures.hpp"
#include "views/report_style.hpp"

namespace lotwear {

namespace {

using httplib::Request, httplib::Response;

constexpr std::size_t kLargestBody = std::size_t{1} << 20;  // an outline of 5000 corners is a tenth of it
constexpr std::size_t kLargestPhoto = std::size_t{256} << 20;
constexpr std::size_t kThreads = 24;  // a browser keeps six connections open for each of its tabs' hosts
constexpr const char* kJson = "application/json; charset=utf-8";

// Nothing but our own files runs or is loaded, nobody may put the page into theirs, and nothing leaves.
constexpr const char* kPagePolicy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; base-uri "
    "'none'; "
    "form-action 'none'; frame-ancestors 'none'";

std::string trouble_page(int status, const std::string& why) {
  return fmt::format(
      "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\">"
      "<title>lotwear review</title><link rel=\"stylesheet\" "
      "href=\"/page/trouble.css\"><main><h1>{}</h1><p>{}</p></main>",
      status == 404 ? "There is nothing here" : "Not this way", escape(why));
}

void answer_trouble(const Request& request, Response& response, int status, const std::string& why) {
  response.status = status;
  if (request.path.starts_with("/api/")) {
    response.set_content(trouble_text(why), kJson);
  } else {
    response.set_content(trouble_page(status, why), "text/html; charset=utf-8");
  }
}

std::optional<std::size_t> whole_number(const std::string& text) {
  std::size_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

Knock knock_of(const Request& request) {
  return {request.method,
          request.target,
          request.get_header_value("Host"),
          request.get_header_value("Origin"),
          request.get_header_value("Cookie"),
          request.get_header_value("X-Lotwear-Token"),
          request.get_header_value("Content-Type"),
          request.get_header_value("Content-Length"),
          request.has_header("Transfer-Encoding") || request.has_header("Content-Encoding")};
}

/// Any picture that a browser may not show, or shows turned otherwise than we see it, as an upright JPEG.
std::string upright_jpeg(const Photo& photo) {
  cv::Mat bgr;
  cv::cvtColor(photo.rgb, bgr, cv::COLOR_RGB2BGR);
  std::vector<unsigned char> bytes;
  constexpr int kQuality = 92;
  require(cv::imencode(".jpg", bgr, bytes, {cv::IMWRITE_JPEG_QUALITY, kQuality}), "the JPEG encoder works");
  return {bytes.begin(), bytes.end()};
}

Outcome fulfil(Session& session, const Wish& wish) {
  switch (wish.is) {
    case Wish::Is::say:
      return session.say(wish.revision, wish.id, wish.fields);
    case Wish::Is::draw:
      return session.draw(wish.revision, wish.id, wish.outline);
    case Wish::Is::add:
      return session.add(wish.revision, wish.photo, wish.kind, wish.colour, *wish.outline);
    case Wish::Is::lay:
      return session.add(wish.revision, wish.photo, wish.shape, wish.colour, wish.from, wish.to);
    case Wish::Is::undo:
      return session.undo(wish.revision);
    case Wish::Is::redo:
      break;
  }
  return session.redo(wish.revision);
}

}  // namespace

struct ReviewServer::Inside {
  Session session;
  httplib::Server server;
  int port = 0;
  std::optional<Gate> gate;
  Presence presence;
  std::atomic<bool> done = false;

  explicit Inside(SessionPlaces places) : session(std::move(places)) {}

  void set_up();
  void set_up_pages();
  void set_up_pictures();
  void set_up_changes();
  void send_photo(const Request& request, Response& response, bool upright);
  void send_evidence(const Request& request, Response& response);
  void change(const Request& request, Response& response);
};

void ReviewServer::Inside::set_up() {
  server.new_task_queue = [] { return new httplib::ThreadPool(kThreads); };
  // httplib shares ports by default (SO_REUSEPORT): another program could listen beside us
  server.set_socket_options([](socket_t socket) {
    const int yes = 1;
    ::setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof(yes));
  });
  server.set_tcp_nodelay(true);
  server.set_payload_max_length(kLargestBody);
  server.set_keep_alive_timeout(1);  // an idle connection holds up the end for as long
  server.set_keep_alive_max_count(1000);
  server.set_read_timeout(10);
  server.set_write_timeout(30);
  server.set_default_headers({{"Content-Security-Policy", kPagePolicy},
                              {"X-Content-Type-Options", "nosniff"},
                              {"Referrer-Policy", "no-referrer"},
                              {"Cross-Origin-Resource-Policy", "same-origin"},
                              {"Cross-Origin-Opener-Policy", "same-origin"},
                              {"Cache-Control", "no-store"}});
  server.set_pre_routing_handler([this](const Request& request, Response& response) {
    const std::optional<TurnedAway> no = gate->check(knock_of(request));
    // the only file that a stranger gets: how the page of trouble looks
    if (!no || (no->status == 403 && request.path == "/page/trouble.css"))
      return httplib::Server::HandlerResponse::Unhandled;
    answer_trouble(request, response, no->status, no->why);
    return httplib::Server::HandlerResponse::Handled;
  });
  server.set_exception_handler([](const Request& request, Response& response, const std::exception_ptr& error) {
    try {
      std::rethrow_exception(error);
    } catch (const Failure& failure) {
      answer_trouble(request, response, 400, failure.what());
    } catch (const std::exception& other) {
      answer_trouble(request, response, 500,
                     fmt::format("something in lotwear broke ({}); please report it", other.what()));
    }
  });
  server.set_error_handler(httplib::Server::HandlerWithResponse([](const Request& request, Response& response) {
    if (!response.body.empty()) return httplib::Server::HandlerResponse::Unhandled;
    const int status = response.status;
    answer_trouble(request, response, status,
                   status == 404   ? "this review has no such page; go back to its first one"
                   : status == 413 ? "that is larger than any change can be"
                                   : "that could not be read");
    return httplib::Server::HandlerResponse::Handled;
  }));
  set_up_pages();
  set_up_pictures();
  set_up_changes();
}

void ReviewServer::Inside::set_up_pages() {
  server.Get("/", [this](const Request& request, Response& response) {
    if (request.has_param("key")) {
      if (!gate->is_token(request.get_param_value("key")))
        return answer_trouble(request, response, 403, "open the address that lotwear review printed when it started");
      // not a redirect: a strict cookie does not travel on one that another program began
      response.set_header("Set-Cookie", gate->cookie());
      return response.set_content(
          "<!doctype html><meta charset=\"utf-8\"><title>lotwear review</title>"
          "<meta http-equiv=\"refresh\" content=\"0;url=/\">",
          "text/html; charset=utf-8");
    }
    std::string page(page_file("index.html")->bytes);
    const std::string place = "{{token}}";
    page.replace(page.find(place), place.size(), gate->token());
    response.set_content(page, "text/html; charset=utf-8");
  });
  server.Get("/page/inks.css", [](const Request&, Response& response) {
    response.set_content(page_inks_by_choice(), "text/css; charset=utf-8");
  });
  server.Get(R"(/page/([a-z_]+\.[a-z]+))", [](const Request& request, Response& response) {
    const std::optional<PageFile> file = page_file(request.matches[1].str());
    if (!file || file->name == "index.html") return void(response.status = 404);
    response.set_content(std::string(file->bytes), std::string(file->type).c_str());
  });
  server.Get("/favicon.ico", [](const Request&, Response& response) { response.status = 204; });
}

void ReviewServer::Inside::send_photo(const Request& request, Response& response, bool upright) {
  const std::optional<std::size_t> index = whole_number(request.matches[1].str());
  const Survey survey = session.view().survey;
  if (!index || *index >= survey.photos.size()) return void(response.status = 404);
  const SurveyPhoto& entry = survey.photos[*index];
  const auto file = session.photo_file(entry);
  if (!file) return answer_trouble(request, response, 404, entry.file + " " + file.problem().what);
  const Result<Bytes> bytes = read_photo_bytes(*file, kLargestPhoto);
  if (!bytes) return answer_trouble(request, response, 404, entry.file + " " + bytes.problem().what);
  // a survey can come from anybody: only the very photo that was assessed is handed out, whatever lies under its name
  if (sha256_hex(*bytes) != entry.sha256)
    return answer_trouble(request, response, 404, entry.file + " is another photo than the one that was assessed");
  const bool jpeg = bytes->size() > 2 && (*bytes)[0] == 0xFF && (*bytes)[1] == 0xD8;
  const bool png = bytes->size() > 4 && (*bytes)[1] == 'P' && (*bytes)[2] == 'N' && (*bytes)[3] == 'G';
  if (!upright && (jpeg || png))
    return response.set_content(reinterpret_cast<const char*>(bytes->data()), bytes->size(),
                                jpeg ? "image/jpeg" : "image/png");
  const Result<Photo> photo = read_photo(*file);
  if (!photo) return answer_trouble(request, response, 404, entry.file + " " + photo.problem().what);
  response.set_content(upright_jpeg(*photo), "image/jpeg");
}

void ReviewServer::Inside::send_evidence(const Request& request, Response& response) {
  const Survey survey = session.view().survey;
  const std::string id = request.matches[1].str(), which = request.matches[2].str();
  const auto marking = std::find_if(survey.markings.begin(), survey.markings.end(),
                                    [&](const SurveyMarking& one) { return one.id == id; });
  if (marking == survey.markings.end()) return void(response.status = 404);
  const EvidenceNames names = evidence_of(*marking);
  const ReportPicture picture = read_picture(session.folder(), which == "plan"   ? names.plan
                                                               : which == "loss" ? names.loss
                                                                                 : names.photo);
  if (!picture.missing.empty()) return answer_trouble(request, response, 404, picture.missing);
  response.set_content(picture.bytes, picture.media_type.c_str());
}

void ReviewServer::Inside::set_up_pictures() {
  server.Get(R"(/photo/(\d{1,6}))",
             [this](const Request& request, Response& response) { send_photo(request, response, false); });
  server.Get(R"(/photo/(\d{1,6})/upright)",
             [this](const Request& request, Response& response) { send_photo(request, response, true); });
  server.Get(R"(/evidence/([^/]{1,64})/(photo|plan|loss))",
             [this](const Request& request, Response& response) { send_evidence(request, response); });
}

void ReviewServer::Inside::change(const Request& request, Response& response) {
  const Outcome outcome = fulfil(session, read_wish(request.body));
  if (outcome.is == Outcome::Is::done)
    return response.set_content(changed_state(session.view(), outcome, session.last_measured_ms()), kJson);
  constexpr int kConflict = 409, kRefused = 422;
  answer_trouble(request, response, outcome.is == Outcome::Is::stale ? kConflict : kRefused, outcome.what);
}

void ReviewServer::Inside::set_up_changes() {
  server.Get("/api/state", [this](const Request&, Response& response) {
    const Session::View view = session.view();
    std::vector<std::optional<std::string>> trouble;
    for (const SurveyPhoto& photo : view.survey.photos) {
      const auto file = session.photo_file(photo);
      trouble.push_back(file ? std::nullopt : std::optional(file.problem().what));
    }
    response.set_content(whole_state(view, session.shapes(), trouble), kJson);
  });
  server.Post("/api/change", [this](const Request& request, Response& response) { change(request, response); });
  server.Post("/api/here", [this](const Request& request, Response& response) {
    presence.seen(text_in(request.body, "tab"), std::chrono::steady_clock::now());
    response.set_content(fmt::format("{{\"revision\": {}}}", session.view().survey.revision), kJson);
  });
  server.Post("/api/gone", [this](const Request& request, Response& response) {
    presence.left(text_in(request.body, "tab"), std::chrono::steady_clock::now());
    response.set_content("{}", kJson);
  });
  server.Post("/api/foresee", [this](const Request& request, Response& response) {
    session.foresee(number_in(request.body, "photo"));
    response.set_content("{}", kJson);
  });
  server.Post("/api/done", [this](const Request&, Response& response) {
    response.set_content("{}", kJson);
    done = true;
  });
}

ReviewServer::ReviewServer(SessionPlaces places, int port) : inside_(std::make_unique<Inside>(std::move(places))) {
  const char* const here = "127.0.0.1";
  inside_->set_up();
  inside_->port = port == 0                                  ? inside_->server.bind_to_any_port(here)
                  : inside_->server.bind_to_port(here, port) ? port
                                                             : -1;
  if (inside_->port <= 0)
    throw Failure(port == 0 ? "no free port was found on this machine"
                            : fmt::format("port {} is taken or not allowed; leave --port out to get a free one", port));
  inside_->gate.emplace(random_token(), inside_->port);
}

ReviewServer::~ReviewServer() { stop(); }

int ReviewServer::port() const { return inside_->port; }

std::string ReviewServer::address() const {
  return fmt::format("http://127.0.0.1:{}/?key={}", inside_->port, inside_->gate->token());
}

void ReviewServer::serve() {
  std::jthread listener([this] { inside_->server.listen_after_bind(); });
  constexpr std::chrono::milliseconds kStep{50};
  while (!inside_->done && !inside_->presence.over(std::chrono::steady_clock::now()))
    std::this_thread::sleep_for(kStep);
  std::this_thread::sleep_for(kStep);  // the answer to "done" is on its way
  inside_->server.stop();
}

void ReviewServer::stop() { inside_->done = true; }

Session& ReviewServer::session() { return inside_->session; }

}  // namespace lotwear
