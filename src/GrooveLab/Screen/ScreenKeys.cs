using System.Globalization;
using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Inputs;
using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;
using GrooveLab.Store;

namespace GrooveLab.Screen;

/// <summary>
/// Carries out keys, pedals and typed words, and keeps the state of the screen. Independent of the terminal: a key has a name and the
/// time at which it was pressed.
/// </summary>
internal sealed class ScreenKeys(KeySettings keys)
{
    private const double QuitAgainSeconds = 4;
    private const double HeldDownSeconds = 0.7;
    private const double MessageSeconds = 8;
    private const int MostNamed = 5;
    private const int LongMessage = 76;

    // A key that was handled later than this is taken as pressed so long ago.
    private const double LatestKeySeconds = 0.5;

    // The report of tapped words stays longer than other messages.
    private const double ReportSeconds = 12;

    private readonly List<double> _taps = [];
    private readonly LineEditor _line = new();
    private ScreenStateUpdater _updater = new();
    private ScreenState _screen = new();
    private IScreenPerformance? _performance;
    private double _quitAsked = double.NegativeInfinity;
    private double _quitPressed = double.NegativeInfinity;
    private (string File, PerformanceState? State, double At) _lastSave = (string.Empty, null, double.NegativeInfinity);
    private double _messageAt = double.NegativeInfinity;
    private string? _tapped;
    private (PerformanceState? State, int Bar, (string Tempo, string Advice) Tempo) _ready;
    private int? _from;
    private PerformanceState? _countedIn;
    private int? _song;
    private WordTaps? _wordTaps;

    // Where the music would have started before the player asked to tap words; null if it has started since.
    private (int? From, bool Is) _beforeTaps;
    private int _view;
    private IReadOnlyList<string>? _over;
    private int _overFrom;
    private int _selected;
    private bool _drawAgain;

    /// <summary>What the player requests from the program; the program resets it to <see cref="ScreenRequest.None"/>.</summary>
    public ScreenRequest Request { get; set; }

    /// <summary>The current time in seconds, of the same clock as the times of keys; null if keys are handled at their time.</summary>
    public Func<double>? Clock { get; set; }

    /// <summary>The chart to open.</summary>
    public string ChartToOpen { get; private set; } = string.Empty;

    /// <summary>The songs of the set; null without one.</summary>
    public SetList? Set { get; set; }

    /// <summary>The song of the set to show.</summary>
    public int SongToPlay { get; private set; }

    /// <summary>Switches to another performance.</summary>
    /// <param name="performance">The performance.</param>
    /// <param name="song">Its index in the set; null if it is not a song of the set.</param>
    public void Show(IScreenPerformance performance, int? song = null)
    {
        if (_performance is not null && !ReferenceEquals(_performance, performance))
        {
            (_screen, _updater) = (new ScreenState(), new ScreenStateUpdater());
        }

        _performance = performance;
        (_from, _song, _wordTaps, _beforeTaps) = (null, song, null, default);
        _taps.Clear();
        _selected = Math.Min(_selected, performance.Conductor.State.Chart.Parts.Count - 1);
        _screen.Keys = KeyRow();
        if (keys.Problems.Count > 0)
        {
            var others = keys.Problems.Count - 1;
            Say(keys.Problems[0] + (others > 0 ? $"; and {others} more: {keys.KeyFor("more") ?? "?"} lists them" : string.Empty), warns: true, double.PositiveInfinity);
        }
    }

    /// <summary>Shows a message.</summary>
    public void Say(string message, bool warns, double now)
    {
        (_screen.Message, _screen.MessageWarns, _messageAt) = (message, warns, now);
    }

    /// <summary>True, once, after the player has asked to draw the whole screen again.</summary>
    public bool TakeDrawAgain()
    {
        var asked = _drawAgain;
        _drawAgain = false;
        return asked;
    }

    /// <summary>The current state of the screen.</summary>
    /// <param name="now">Seconds, from any start.</param>
    public ScreenState StateAt(double now)
    {
        if (_performance is null)
        {
            _screen.Where = "the band is getting ready";
            _screen.Keys = KeyRow();
            return _screen;
        }

        var heard = _performance.Heard;
        Led().Update(_performance.News(), heard);
        if (_performance.Conductor.TakeRefusal() is { } refusal)
        {
            Say(refusal, warns: true, now);
        }

        _updater.Update(_screen, heard, _performance.Conductor);
        _screen.Health = _performance.Health;
        _screen.Links = _performance.Links;
        _selected = Math.Clamp(_selected, 0, _performance.Conductor.Sounding.Chart.Parts.Count - 1);
        _screen.Selected = _selected;
        (_screen.Typed, _screen.TypedCaret) = (_line.Text, _line.Caret);
        _screen.View = (ScreenView)_view;
        FollowTaps(heard, now);
        TellStanding(heard);
        _screen.Over = _over;
        _screen.OverFrom = _overFrom;
        _screen.Keys = KeyRow();
        _screen.Completions = _line.Text is null ? string.Empty : _screen.Completions;
        if (now - _messageAt > MessageSeconds)
        {
            _screen.Message = string.Empty;
            _screen.MessageWarns = false;
        }

        return _screen;
    }

    /// <summary>Handles a key.</summary>
    /// <param name="key">Its name: "space", "pagedown", "f", "F", "+"; with control "ctrl+c".</param>
    /// <param name="now">When, in seconds.</param>
    public void Press(string key, double now)
    {
        if (key == "ctrl+c")
        {
            Request = ScreenRequest.Quit;
            return;
        }

        var does = keys.Does(key);
        if (does == "redraw" && (_line.Text is null || key.StartsWith("ctrl+", StringComparison.Ordinal)))
        {
            // Also while the list is shown, and before the band is ready.
            _drawAgain = true;
            return;
        }

        if (_performance is null)
        {
            // Nothing plays yet, so the only possible action is to leave.
            Request = does == "quit" ? ScreenRequest.Quit : Request;
            return;
        }

        if (_line.Text is not null)
        {
            Type(key, now);
            return;
        }

        if (key.StartsWith("alt+", StringComparison.Ordinal))
        {
            // These edit a line only.
            return;
        }

        if (_wordTaps is not null && _over is null && TapKey(key, does, now))
        {
            return;
        }

        if (_over is not null && key is "home" or "end")
        {
            _overFrom = key == "home" ? 0 : LastPage(_over);
            return;
        }

        if (_over is not null && key is "pagedown" or "pageup" or "down" or "up")
        {
            var to = key switch
            {
                "pagedown" => Math.Max(_overFrom + 1, PageAfter(_over, _overFrom)),
                "pageup" => PageBefore(_over, _overFrom),
                "down" => _overFrom + 1,
                _ => _overFrom - 1,
            };
            _overFrom = Math.Clamp(to, 0, LastPage(_over));
            return;
        }

        // A key pressed in the list acts; close the list to show its effect.
        _over = does == "more" ? _over : null;
        if (does is not null)
        {
            Act(does, now);
        }
        else if (key.Length > 0)
        {
            Say($"{key} does nothing; {keys.KeyFor("more") ?? "?"} lists the keys", warns: false, now);
        }
    }

    // A page is what fits on the screen; a line may take several rows.
    private int PageAfter(IReadOnlyList<string> lines, int from)
    {
        var rows = 0;
        var to = from;
        while (to < lines.Count && (rows += ScreenPicture.RowsOf(lines[to], _screen.OverSize.Columns)) <= _screen.OverSize.Rows)
        {
            to++;
        }

        return to;
    }

    private int PageBefore(IReadOnlyList<string> lines, int end)
    {
        var rows = 0;
        var from = end;
        while (from > 0 && (rows += ScreenPicture.RowsOf(lines[from - 1], _screen.OverSize.Columns)) <= _screen.OverSize.Rows)
        {
            from--;
        }

        return from;
    }

    private int LastPage(IReadOnlyList<string> lines) => PageBefore(lines, lines.Count);

    /// <summary>Handles a pedal or controller: "cc64", "note36", "program3".</summary>
    public void Pedal(string pedal, double now)
    {
        if (_performance is null)
        {
            return;
        }

        if (keys.PedalDoes(pedal) is { } does)
        {
            if (_wordTaps is not null && !IsOver && IsTap(does))
            {
                TapWord(endsNote: false, now);
                return;
            }

            Act(does, now);
        }
        else
        {
            Say($"{pedal} does nothing; bind it under [pedals] in {KeySettings.File}", warns: false, now);
        }
    }

    /// <summary>Carries out an action of the screen, or a change in words.</summary>
    public void Act(string does, double now)
    {
        var gap = does.IndexOf(' ');
        var (verb, rest) = gap < 0 ? (does.ToLowerInvariant(), string.Empty) : (does[..gap].ToLowerInvariant(), does[(gap + 1)..].Trim());
        if (Wrong(verb, rest) is { } wrong)
        {
            Say(wrong, warns: true, now);
            return;
        }

        switch (verb)
        {
            case "tap":
                Tap(now);
                break;
            case ScreenActions.TapWords:
                TapWords(rest, now);
                break;
            case "faster" or "slower":
                Change(new SetTempo(TempoGoal.By(verb == "faster" ? Step() : -Step())), now);
                break;
            case "part" when int.TryParse(rest, NumberStyles.None, CultureInfo.InvariantCulture, out var number):
                Select(number - 1, now);
                break;
            case "mute" or "solo" when rest.Length == 0:
                Change(verb == "mute" ? new Mute(Chosen) : new Solo(Chosen), now);
                break;
            case "louder" or "softer":
                Change(new SetLevel(Chosen, verb == "louder" ? 1 : -1, IsStep: true), now);
                break;
            case "all" when rest is "louder" or "softer":
                Change(new SetMaster(rest == "louder" ? 1 : -1, IsStep: true), now);
                break;
            case "type":
                _line.Open(rest.Length > 0 ? rest + " " : string.Empty);
                break;
            case "more":
                (_over, _overFrom) = (_over is null ? Help() : null, 0);
                break;
            case "back":
                _over = null;
                _screen.Message = string.Empty;
                break;
            case "save" when IsHeldDown(rest, now):
                break;
            case "save" when rest != "anyway" && !rest.Contains('.') && !rest.Contains('/') && Words.Nearest(rest, ["anyway"]) is { } anyway:
                Say($"not saved in {Words.Quote(rest)}; {Words.Meant(anyway)}write save ./{rest} for a file of that name", warns: true, now);
                break;
            case "save":
                var saved = rest == "anyway" ? _performance!.SaveAnyway() : _performance!.Save(rest.Length == 0 ? null : rest);
                Say(saved.Says, !saved.Taken, now);
                break;
            case "discard" when rest.Length == 0:
                var discarded = _performance!.Discard();
                Say(discarded.Says, !discarded.Taken, now);
                break;
            case "recall" when rest == Recovery.Newest && !_performance!.Conductor.History.Versions.ContainsKey(rest):
                Say("no unsaved changes to restore", warns: true, now);
                break;
            case "version" when rest.Length > 0:
                Change(does, now);
                if (!_screen.MessageWarns && _performance!.KeepVersionNow(rest) is { } refused)
                {
                    Say($"not saved: {refused}; 'recall {rest}' restores it until you leave", warns: true, now);
                }

                break;
            case "open" when rest.Length == 0:
                Say("incomplete; usage: open FILE", warns: true, now);
                break;
            case "open":
                (ChartToOpen, Request) = (UserFolders.Typed(rest), ScreenRequest.Open);
                break;
            case "stop" when rest.Length == 0:
                Stop(now);
                break;
            case "stop-start" when rest.Length == 0:
                if (IsOver)
                {
                    Start(string.Empty, now);
                }
                else
                {
                    Stop(now);
                }

                break;
            case "start":
                Start(rest, now);
                break;
            case "go-on" when IsOver && rest.Length == 0:
                if (IsAtTheEnd && NextSong(1) is { } following)
                {
                    Play(following);
                }
                else
                {
                    Start(string.Empty, now);
                }

                break;
            case "go-on" when rest.Length == 0 && !_performance!.Conductor.IsHeld:
                // A foot on the pedal too often is no mistake.
                Say("nothing to release", warns: false, now);
                break;
            case "restart" when IsOver && rest.Length == 0:
                Start("top", now);
                break;
            case "again" when IsOver && rest.Length == 0:
                Start("section", now);
                break;
            case "jump" or "section" when IsOver && rest.Length > 0:
                StandAt(rest, now);
                break;
            case "next" or "previous" when rest.Length == 0:
                if (NextSong(verb == "next" ? 1 : -1) is { } other)
                {
                    Play(other);
                }
                else
                {
                    Say(Set is null ? "no set; 'groovelab play A B C' plays several charts" : verb == "next" ? "this is the last song" : "this is the first song", warns: true, now);
                }

                break;
            case "song":
                SelectSong(rest, now);
                break;
            case "view":
                View(rest, now);
                break;
            case "words":
                ShowWordsOf(rest, now);
                break;
            case "redraw" when rest.Length == 0:
                _drawAgain = true;
                break;
            case "quit":
                var isUnsaved = _performance!.IsUnsaved;
                var isHeldDown = isUnsaved && rest != "now" && now - _quitPressed < HeldDownSeconds;
                _quitPressed = now;
                if (isHeldDown)
                {
                    // The question stays as long as the key is held.
                    (_quitAsked, _messageAt) = (now, now);
                }
                else if ((rest == "now" && !isUnsaved) || now - _quitAsked < QuitAgainSeconds)
                {
                    Request = ScreenRequest.Quit;
                }
                else
                {
                    _quitAsked = now;
                    var isKept = !isUnsaved || _performance.KeepNow();
                    Say(
                        isUnsaved
                            ? (_performance.UnsavedSide is { } side
                                ? $"{side} is not saved: {keys.KeyFor("hear other") ?? "hear other"} plays it, {keys.KeyFor("save") ?? "save"} saves; press again to leave"
                                : $"unsaved changes: {keys.KeyFor("save") ?? "save"} saves; press again to leave")
                                + (isKept ? $"; the next start offers {(_performance.UnsavedSide is null ? "them" : "it")}"
                                    : _performance.NotKept is { Count: > 0 } lost ? $"; the next start offers them without {Words.And([.. lost.Select(change => Words.Quote(change))])}, which cannot be written"
                                    : " and lose them: they could not be kept for the next start")
                            : "press again to leave",
                        warns: isUnsaved,
                        now);
                }

                break;
            default:
                if (ChangeWords.All.All(form => !string.Equals(form.Verb, verb, StringComparison.OrdinalIgnoreCase)))
                {
                    Say(ChangeWords.Unknown(verb, ScreenActions.Verbs), warns: true, now);
                    break;
                }

                Change(does, now);
                break;
        }
    }

    // What is wrong with the arguments of an action of the screen; null for nothing, and for other actions.
    private static string? Wrong(string verb, string rest) => verb switch
    {
        "quit" when rest == "now" => null,
        "part" or "all" or "view" when rest.Split(' ', 2) is [var first, var more] => $"unexpected {Words.Quote(more)} after '{verb} {first}'",
        "all" => rest is "louder" or "softer" ? null : rest.Length == 0 ? "incomplete; usage: all louder | softer"
            : $"{Words.Quote(rest)} is not accepted here; {Words.Meant(Words.Nearest(rest, ["louder", "softer"]))}use all louder or all softer",
        "part" or "song" => ScreenActions.Problem($"{verb} {rest}".TrimEnd()) is { } problem ? $"{problem.What}; {problem.Accepted}" : null,
        _ => rest.Length > 0 && ScreenActions.StandsAlone(verb) ? $"'{verb}' takes no arguments; leave out {Words.Quote(rest)}" : null,
    };

    // The repeats of a key that is held down must not answer the question that the first press asked.
    private bool IsHeldDown(string file, double now)
    {
        var (state, last) = (_performance!.Conductor.State, _lastSave);
        _lastSave = (file, state, now);
        return last.File == file && ReferenceEquals(last.State, state) && now - last.At < HeldDownSeconds;
    }

    // Nothing plays, or only the last notes ring.
    private bool IsOver => _performance!.Standing is Standing.Ready or Standing.Stopped or Standing.Ended or Standing.Stopping
        || _performance.Heard.State is TransportState.Ringing or TransportState.Ended;

    private bool IsAtTheEnd => _performance!.Standing == Standing.Ended || _performance.Heard.State is TransportState.Ringing or TransportState.Ended;

    // The bar at which the music starts again.
    private int FromBar(PerformanceState state)
    {
        if (_from is { } from)
        {
            return from;
        }

        _performance!.Conductor.StandsAt = null;
        return _performance.Standing == Standing.Stopped && !IsAtTheEnd ? state.IndexAt(_performance.Conductor.Place) : 0;
    }

    private StartPoint InRamp(StartPoint start, PerformanceState state)
    {
        var (ordinal, index) = _performance!.Conductor.Played;
        return _performance.Standing == Standing.Ended ? start : start.InRamp(state, ordinal, index);
    }

    // Changes refer to the bar that is heard, or to the one at which the music will start.
    private Conductor Led()
    {
        var conductor = _performance!.Conductor;
        if (_from is { } bar && _countedIn is { } counted && counted.Recasts != conductor.State.Recasts)
        {
            // In another meter the same place has another number.
            _from = PerformanceHistory.SamePlace(bar, counted, conductor.State);
        }

        _countedIn = conductor.State;
        conductor.StandsAt = _performance.Standing switch
        {
            Standing.Ready => _from,
            Standing.Stopped or Standing.Ended => FromBar(conductor.State),
            _ => null,
        };
        return conductor;
    }

    private static string NameOf(int bar, PerformanceState state)
    {
        var place = state.Plan.BarAt(bar);
        return $"{place.Run.Section.Name}, bar {place.IndexInRun + 1}";
    }

    private void Stop(double now)
    {
        switch (_performance!.Standing)
        {
            case Standing.Starting:
                Say("starting; a moment", warns: false, now);
                break;
            case Standing.Playing:
                var state = _performance.Conductor.State;
                _from = IsAtTheEnd ? null : _performance.Heard.Bar is { Index: >= 0 and var bar } ? bar : state.Orders.StartAt ?? 0;
                _performance.Halt();
                Say("stopped", warns: false, now);
                break;
            default:
                Say("the music has stopped already", warns: true, now);
                break;
        }
    }

    private void Start(string words, double now)
    {
        var state = _performance!.Conductor.State;
        var given = words.Split(' ', StringSplitOptions.RemoveEmptyEntries).ToList();
        bool? asked = given.LastOrDefault() switch
        {
            "count-in" => true,
            "no-count-in" => false,
            _ => null,
        };
        if (asked is not null)
        {
            given.RemoveAt(given.Count - 1);
        }

        var countIn = asked ?? state.CountIn;
        var where = string.Join(' ', given);
        if (_performance.Standing == Standing.Starting)
        {
            Say("starting; a moment", warns: false, now);
            return;
        }

        if (!IsOver)
        {
            if (where is "" or "here" || asked is not null)
            {
                Say("the music is playing; stop it first", warns: true, now);
            }
            else
            {
                Change(where == "section" ? "again" : where == "top" ? "restart" : "jump " + where, now);
            }

            return;
        }

        try
        {
            var here = FromBar(state);
            var bar = where switch
            {
                "" or "here" => here,
                "section" => state.Plan.BarAt(here).Run.FirstBar,
                "top" => 0,
                _ when state.Chart.Sections.All(section => !string.Equals(section.Name, where, StringComparison.OrdinalIgnoreCase)) => throw new ChangeRefusedException(
                    Words.Unknown("section", where, state.Chart.Sections.Select(section => section.Name), [.. ScreenActions.StartPlaces, .. ScreenActions.CountIns])),
                _ => StartPoint.FirstBarOf(where, state),
            };
            var start = where == "top" ? StartPoint.Top(countIn) : bar == 0 && _from is null && state.Orders.Loop is null ? StartPoint.Top(countIn) : StartPoint.At(bar, state, countIn);
            start = where == "top" ? start : InRamp(start, state);
            var answer = _performance.Begin(start);
            (_from, _beforeTaps) = answer.Taken ? (null, default) : (_from, _beforeTaps);
            Say(answer.Taken ? $"from {NameOf(start.Bar, state)}{(countIn ? string.Empty : ", without count-in")}" : answer.Says, !answer.Taken, now);
        }
        catch (ChangeRefusedException refusal)
        {
            Say(refusal.Message, warns: true, now);
        }
    }

    private void StandAt(string section, double now)
    {
        try
        {
            var state = _performance!.Conductor.State;
            _from = StartPoint.FirstBarOf(section, state);
            Say($"start plays from {NameOf(_from.Value, state)}", warns: false, now);
        }
        catch (ChangeRefusedException refusal)
        {
            Say(refusal.Message, warns: true, now);
        }
    }

    private int? NextSong(int step) => Set is { } set ? set.After(_song ?? (step > 0 ? -1 : set.Songs.Count), step) : null;

    private void Play(int song) => (SongToPlay, Request) = (song, ScreenRequest.Song);

    private void SelectSong(string named, double now)
    {
        if (Set is not { } set)
        {
            Say("no set; 'groovelab play A B C' plays several charts", warns: true, now);
            return;
        }

        switch (set.Named(named))
        {
            case []:
                var near = Words.Nearest(named, set.Songs.Select(song => song.Title));
                Say($"no song {Words.Quote(named)}; {(near is null ? $"songs: 1 to {set.Songs.Count}" : $"did you mean {near}?")}", warns: true, now);
                break;
            case [var at] when !set.Songs[at].IsPlayable:
                Say(InBrief(set.Songs[at]), warns: true, now);
                break;
            case [var at]:
                Play(at);
                break;
            case var several:
                Say($"several songs: {string.Join(", ", several.Take(MostNamed).Select(song => $"{song + 1} {set.Songs[song].Title}"))}{(several.Count > MostNamed ? ", ..." : string.Empty)}", warns: true, now);
                break;
        }
    }

    /// <summary>Which songs cannot be played, and why the first cannot, in a line or two.</summary>
    public string InBrief(SetList set)
    {
        var broken = set.Songs.Where(song => !song.IsPlayable).ToList();
        if (broken.Count == 0)
        {
            return $"{set.Problems[0]}{Others(set.Problems.Count - 1, "problem")}";
        }

        var others = broken.Count - 1 + set.Problems.Count - broken.Sum(song => song.Problems.Count);
        return others == 0 ? InBrief(broken[0]) : $"{broken.Count} of {set.Songs.Count} songs cannot be played; {InBrief(broken[0])}";
    }

    // The place, the error and its remedy; the folder does not help on the stage, and the list has it.
    private string InBrief(SetSong song)
    {
        var first = song.Problems[0];
        var file = first.IndexOf(song.Path, StringComparison.Ordinal);
        first = file < 0 ? first : Path.GetFileName(song.Path) + first[(file + song.Path.Length)..];
        var isNamed = first.StartsWith(song.Title, StringComparison.Ordinal);
        return $"{(isNamed ? string.Empty : song.Title + ": ")}{first}{Others(song.Problems.Count - 1, "error")}";
    }

    private string Others(int count, string thing) =>
        $"{(count == 0 ? string.Empty : $"; and {count} more {thing}{(count == 1 ? string.Empty : "s")}")}; {keys.KeyFor("more") ?? "more"}: all problems";

    private void View(string named, double now)
    {
        var at = named.Length == 0 ? (_view + 1) % ScreenActions.Views.Length : Array.IndexOf(ScreenActions.Views, named.ToLowerInvariant());
        if (at < 0)
        {
            Say($"{Words.Quote(named)} is not a view; {Words.Meant(Words.Nearest(named, ScreenActions.Views))}accepted: {Words.Or(ScreenActions.Views)}", warns: true, now);
            return;
        }

        _view = at;
        Say(
            (ScreenView)at switch
            {
                ScreenView.Words => "large words, for singers",
                ScreenView.Chords => "large chords, for players",
                _ => "the band",
            },
            warns: false,
            now);
    }

    // Shows the words of a line large.
    private void ShowWordsOf(string named, double now)
    {
        const string Tune = "tune";
        List<string> lines =
        [
            Tune,
            .. _performance!.Conductor.State.Chart.Sections.SelectMany(section => section.Endings.Select(ending => ending.Tune).Prepend(section.Tune))
                .SelectMany(tune => tune?.Lines ?? []).Where(line => line.Verses.Count > 0).Select(line => line.Name).Distinct(StringComparer.OrdinalIgnoreCase),
        ];
        if (lines.Find(line => string.Equals(line, named, StringComparison.OrdinalIgnoreCase)) is not { } line)
        {
            var given = named.Length == 0 ? "incomplete; usage: words LINE; " : $"no words of {Words.Quote(named)}; {Words.Meant(Words.Nearest(named, lines))}";
            Say($"{given}lines with words: {string.Join(", ", lines)}", warns: true, now);
            return;
        }

        _screen.WordsOf = line == Tune ? string.Empty : line;
        _view = (int)ScreenView.Words;
        Say($"large words of {(line == Tune ? "the tune" : line)}", warns: false, now);
    }

    private (string Tempo, string Advice) ReadyTempo(PerformanceState state, int bar)
    {
        if (!ReferenceEquals(_ready.State, state) || _ready.Bar != bar)
        {
            _ready = (state, bar, ScreenStateUpdater.TempoAt(state, InRamp(new StartPoint(bar, 0, false, true), state)));
        }

        return _ready.Tempo;
    }

    // Whether the band plays, where it will start, and what the pedal and keys do then.
    private void TellStanding(in Playhead heard)
    {
        var standing = _performance!.Standing;
        var state = _performance.Conductor.State;
        _screen.Standing = standing;
        _screen.Song = Set is { } set && _song is { } song ? $"song {song + 1} of {set.Songs.Count}" : string.Empty;
        _screen.Hint = string.Empty;
        if (standing is Standing.Ready or Standing.Stopped or Standing.Ended)
        {
            // As it will be, also if it was changed since the music stopped.
            (_screen.Tempo, _screen.BeatAdvice) = ReadyTempo(state, _from ?? (standing == Standing.Ready ? state.Orders.StartAt ?? 0 : FromBar(state)));
        }
        else if (heard.Bar is null)
        {
            // Once it has started, the player listens.
            _screen.Tempo = _screen.BeatAdvice = string.Empty;
        }

        _screen.NextSong = IsOver && NextSong(1) is { } following ? Set!.Songs[following].Title : string.Empty;
        switch (standing)
        {
            case Standing.Playing when !IsAtTheEnd:
                return;
            case Standing.Playing:
                break;
            case Standing.Starting:
                _screen.Where = "starting";
                return;
            case Standing.Stopping:
                _screen.Where = "stopping";
                return;
            case Standing.Ended:
                _screen.Where = "the end";
                break;
            case Standing.Ready:
                _screen.Where = _from is { } from ? $"ready at {NameOf(from, state)}" : "ready";
                break;
            default:
                _screen.Where = $"stopped at {NameOf(FromBar(state), state)}";
                break;
        }

        var pedal = keys.KeyFor("go-on") ?? "start";
        var top = keys.KeyFor("restart") ?? "restart";
        _screen.Hint = IsAtTheEnd
            ? _screen.NextSong.Length > 0 ? $"{pedal}, pedal: next   {top}: again" : $"{pedal}, pedal: again from the top"
            : standing == Standing.Ready && _from is null ? $"{pedal}, pedal: start"
            : $"{pedal}, pedal: start here   {keys.KeyFor("again") ?? "again"}: section   {top}: top";
    }

    private string Chosen => _performance!.Conductor.Sounding.Chart.Parts[Math.Clamp(_selected, 0, _performance.Conductor.Sounding.Chart.Parts.Count - 1)].Name;

    private void Change(string words, double now)
    {
        // A question would stand in a player's way: the change is made for the whole chart, and one word limits it.
        var answer = Led().Do(words);
        var offer = answer is { Taken: true, Section: { } section } ? $"; 'here' limits it to {section}" : string.Empty;
        Say(answer.Says + offer, !answer.Taken, now);
    }

    private void Change(Change change, double now)
    {
        var answer = Led().Do(change);
        Say(answer.Says, !answer.Taken, now);
    }

    private void Select(int part, double now)
    {
        var parts = _performance!.Conductor.Sounding.Chart.Parts;
        if (part < parts.Count)
        {
            _selected = part;
            Say($"{parts[part].Name}: m silent, s alone, [ softer, ] louder", warns: false, now);
        }
        else
        {
            Say($"the band has {parts.Count} parts", warns: true, now);
        }
    }

    private Rational Step()
    {
        var place = Led().Place;
        var state = _performance!.Conductor.State;
        var bar = state.BarAt(place);
        var tempo = state.SteadyTempoIn(bar, place.Ordinal);
        return TempoGoal.SmallStep(FeltTempo.Of(bar.Felt, bar.Meter, tempo, bar.GroupPlace));
    }

    private void Tap(double now)
    {
        var conductor = Led();
        _taps.Add(now);
        var row = TapTempo.NewestRow(_taps);
        if (row.Count < _taps.Count)
        {
            _taps.RemoveRange(0, _taps.Count - row.Count);
            _tapped = null;
        }

        if (row.Count == 1)
        {
            Say("keep tapping: beats, long and short, or bars", warns: false, now);
            return;
        }

        // The taps of a row are one change: its change so far is undone first, so that the row is compared with the tempo before it.
        if (_tapped is not null && conductor.History.LastChange == _tapped)
        {
            conductor.Do(new Undo());
        }

        _tapped = null;
        var state = conductor.State;
        var bar = state.BarAt(conductor.Place);
        var around = state.TempoIn(bar, conductor.Place.Ordinal);
        if (TapTempo.Hear(row, bar.Meter, bar.GroupPlace, around) is not { } heard)
        {
            return;
        }

        var what = heard.LongShort ? "long and short" : heard.Level switch
        {
            FeltLevel.Unit => NoteValue.PluralOf(bar.Meter.Unit) ?? "units",
            FeltLevel.Group => "groups",
            FeltLevel.Bar => "bars",
            _ => "bar groups",
        };
        var enough = row.Count >= (heard.Level == FeltLevel.Unit || heard.LongShort ? 4 : 3);
        if (!enough)
        {
            Say($"{row.Count} taps, {what} so far", warns: false, now);
            return;
        }

        var answer = conductor.Do(SetTempo.FromTaps(heard, bar));
        _tapped = answer.Taken ? conductor.History.LastChange : null;
        var spread = double.IsNaN(heard.RelativeError)
            ? string.Empty
            : string.Create(CultureInfo.InvariantCulture, $", within {Math.Max(0.1, heard.RelativeError * 200):0.#} %");
        Say(answer.Taken ? $"you tap {what}: {answer.Says} ({row.Count} taps{spread})" : answer.Says, !answer.Taken, now);
    }

    private void TapWords(string section, double now)
    {
        var conductor = _performance!.Conductor;
        var heard = _performance.Heard;
        var bar = IsOver ? FromBar(conductor.State) : heard.Bar?.Index ?? 0;
        if (WordTaps.For(section, conductor.State, bar, out var problem) is not { } taps)
        {
            Say(problem!, warns: true, now);
            return;
        }

        var key = keys.KeyFor("go-on") ?? ScreenActions.TapWords;
        var tap = $"one tap of {key} or pedal for each syllable";
        if (!IsOver)
        {
            _wordTaps = taps;
            Say($"{tap}, from the start of {taps.Section}", warns: false, now);
            return;
        }

        if (StartOf(taps.Section, bar, conductor.State) is not { } start)
        {
            Say($"{Words.Quote(taps.Section)} is not in the form; tap the words of a section that the form plays", warns: true, now);
            return;
        }

        // The band starts where the taps are expected.
        (_wordTaps, _beforeTaps) = (taps, (_from, true));
        _from = start == bar ? _from : start;
        Say($"{key} starts the band at {NameOf(start, conductor.State)}; then {tap}", warns: false, now);
    }

    // The first bar of the playing of a section at a bar, or of the next one in this time through the form, or of the first; null if the form has
    // none.
    private static int? StartOf(string section, int bar, PerformanceState state)
    {
        var plan = state.Plan;
        var (here, pass) = (plan.BarAt(bar).Run.FirstBar, bar / plan.BarsInPass * plan.BarsInPass);
        int? first = null;
        for (var at = pass; at < pass + plan.BarsInPass; at = plan.BarAt(at).Run.EndBar)
        {
            if (state.Chart.Sections[plan.BarAt(at).Run.SectionIndex].Name == section)
            {
                first ??= at;
                if (at >= here)
                {
                    return at;
                }
            }
        }

        return first;
    }

    private static bool IsTap(string? does) => does is "go-on" or "tap" or ScreenActions.TapWords;

    // The keys while words are tapped; false for a key that does what it does otherwise.
    private bool TapKey(string key, string? does, double now)
    {
        switch (key)
        {
            case "backspace":
                Say(_wordTaps!.TakeBack() ? "took the last tap back" : "nothing is tapped yet", warns: false, now);
                return true;
            case "z" when !IsOver:
                TapWord(endsNote: true, now);
                return true;
            case "enter" when !IsOver:
                FinishTaps(now);
                return true;
        }

        if (does == "back")
        {
            _wordTaps = null;
            _from = _beforeTaps.Is && IsOver ? _beforeTaps.From : _from;
            _beforeTaps = default;
            Say("left; the rhythm is as it was", warns: false, now);
            return true;
        }

        if (IsOver || !IsTap(does))
        {
            return false;
        }

        TapWord(endsNote: false, now);
        return true;
    }

    private void TapWord(bool endsNote, double now)
    {
        var ago = Clock is { } clock ? Math.Clamp(clock() - now, 0, LatestKeySeconds) : 0;
        FollowTaps(_performance!.Heard, now);
        if (_wordTaps?.Tap(_performance.Conductor, _performance.HeardAgo(ago), endsNote) is { } refusal)
        {
            Say(refusal, warns: true, now);
        }
        else if (_screen.MessageWarns || _wordTaps is not null)
        {
            _screen.Message = string.Empty;
        }
    }

    // When the tapped playing of the section is over, its rhythm is written; if taps are missing, the next playing begins with none.
    private void FollowTaps(in Playhead heard, double now)
    {
        if (_wordTaps?.IsOver(heard) == true)
        {
            FinishTaps(now);
        }

        _screen.Taps = _wordTaps?.ToCome(_performance!.Conductor.State);
    }

    private void FinishTaps(double now)
    {
        var answer = _wordTaps!.Finish(_performance!.Conductor);
        _wordTaps = answer.Taken ? null : _wordTaps;
        _screen.Taps = _wordTaps?.ToCome(_performance.Conductor.State);
        Say(answer.Says, !answer.Taken, answer.Taken ? now + ReportSeconds : now);
    }

    private void Type(string key, double now)
    {
        switch (key)
        {
            case "tab":
                Complete(now);
                break;
            case "enter":
                var words = _line.Enter();
                if (words.Length > 0)
                {
                    Act(words == "quit" ? "quit now" : words, now);
                }

                break;
            default:
                _screen.Completions = string.Empty;
                _line.Press(key);
                break;
        }
    }

    private void Complete(double now)
    {
        var typed = _line.Text![.._line.Caret];
        var fits = TypedCompletion.Of(typed, _performance!.Conductor.History, Set);
        if (fits.Words.Count == 0)
        {
            var verb = typed.Split(' ')[0];
            Say(
                !typed.Contains(' ') && Words.Nearest(verb, ChangeWords.All.Select(form => form.Verb).Concat(ScreenActions.Verbs)) is { } meant
                    ? $"nothing begins with {Words.Quote(typed)}; did you mean {meant}?"
                    : "nothing to complete here",
                warns: false,
                now);
            return;
        }

        var common = fits.Common;
        if (fits.Words.Count == 1)
        {
            // A folder may go on.
            _line.Replace(fits.From, common.EndsWith('/') ? common : common + " ");
        }
        else if (common.Length > typed.Length - fits.From)
        {
            _line.Replace(fits.From, common);
        }

        if (fits.Words.Count > 1)
        {
            _screen.Completions = string.Join("  ", fits.Words);
        }
    }

    // What the keys do now.
    private List<(string Key, string Does)> KeyRow()
    {
        if (_performance is null)
        {
            return Named(("quit", "leave"));
        }

        return _line.Text is not null ? [("enter", "do"), ("tab", "complete"), ("up", "earlier"), ("esc", "cancel")]
            : _wordTaps is not null && _over is null && !IsOver
                ? [(keys.KeyFor("go-on") ?? ScreenActions.TapWords, "syllable"), ("z", "rest"), ("backspace", "take back"), ("enter", "done"), .. Named(("back", "leave"))]
            : _over is not null ? [("up down", "scroll"), .. Named(("back", "back"))]
            : Named(GoesOn(), ("feel other", "beats/bar"), ("tap", "tap"), ("undo", "undo"), ("type", "change"), ("more", "more"));
    }

    private List<(string Key, string Does)> Named(params ReadOnlySpan<(string Action, string Says)> actions)
    {
        var named = new List<(string Key, string Does)>(actions.Length);
        foreach (var (action, says) in actions)
        {
            if (keys.KeyFor(action) is { } key)
            {
                named.Add((key, says));
            }
        }

        return named;
    }

    // The first key of the row. While nothing waits to be released, "go on" does nothing, and the place belongs to "stop".
    private (string Action, string Says) GoesOn() => _performance!.Standing switch
    {
        _ when IsAtTheEnd => ("go-on", NextSong(1) is null ? "again" : "next song"),
        _ when IsOver => ("go-on", "start"),
        Standing.Starting => (string.Empty, string.Empty),
        _ => _performance.Conductor.IsHeld ? ("go-on", "go on") : ("stop-start", "stop"),
    };

    private List<string> Help()
    {
        (string Does, string Says)[] told =
        [
            ("go-on", "go on: out of a vamp, a loop, a hold"), ("feel other", "feel the beats, or the whole bar"),
            ("feel wider", "feel it wider: beats, groups, bar, bar group"), ("feel narrower", "feel it narrower"), ("tap", "tap the tempo"), (ScreenActions.TapWords, "tap the rhythm of the words"),
            ("faster", "a little faster"), ("slower", "a little slower"), ("undo", "undo"), ("redo", "redo"),
            ("hear other", "hear A or B from the same bar"), ("part 1", "select a part (1 to 9)"), ("mute", "mute the selected part"),
            ("solo", "solo the selected part"), ("softer", "the selected part softer"), ("louder", "the selected part louder"),
            ("all softer", "everything softer"), ("all louder", "everything louder"), ("count", "clicks on or off"),
            ("vamp", "vamp on this section until go on"), ("loop section", "loop this section"),
            ("loop seam", "loop the seam to the next section"), ("last-time", "last time"), ("hold", "hold the next downbeat"),
            ("break 1", "a break of one bar"), ("tag 4", "the last four bars three times"), ("restart", "from the top"),
            ("again", "this section again"), ("stop-start", "stop, or start here"), ("start here no-count-in", "start here without count-in"),
            ("round", "the form repeats, or ends by itself"), ("next", "the next song of the set"), ("previous", "the song before"),
            ("view", "large words, large chords, or the band"),
            ("type", "type any change"), ("save", "save the chart"), ("redraw", "draw the screen again"), ("quit", "leave (twice)"), ("back", "back"),
        ];
        var lines = new List<string>();
        if (_screen.Message.Length > LongMessage)
        {
            // A small screen cuts it.
            lines.AddRange([_screen.Message, string.Empty]);
        }

        if (_screen.Links.Length > 0)
        {
            // A small screen has no room for it elsewhere.
            lines.AddRange([_screen.Links, string.Empty]);
        }

        var health = _performance!.Health;
        if (!health.IsGood)
        {
            lines.AddRange(["Problems while playing", string.Empty, .. health.Entries.Select(entry => "  " + entry.Words)]);
            if (health.Failures.Any(failure => !failure.IsOver))
            {
                lines.Add("  details in " + Survived.File.Path);
            }

            lines.Add(string.Empty);
        }

        if (keys.Problems.Count > 0)
        {
            lines.AddRange(["Problems in the settings", string.Empty, .. keys.Problems.Select(problem => "  " + problem), string.Empty]);
        }

        if (Set is { } set)
        {
            lines.AddRange(["The set", string.Empty]);
            for (var i = 0; i < set.Songs.Count; i++)
            {
                var (song, mark) = (set.Songs[i], i == _song ? ">" : " ");
                lines.Add($"{mark} {i + 1,3} {song.Title}{(song.IsPlayable ? string.Empty : " (cannot be played)")}");
            }

            lines.AddRange([string.Empty, .. set.Problems.Count == 0 ? Array.Empty<string>() : ["Problems in the set", string.Empty, .. set.Problems.Select(problem => "  " + problem), string.Empty]]);
        }

        lines.AddRange(["Keys (esc: back; up, down, page up, page down, home, end: scroll)", string.Empty]);
        foreach (var (does, says) in told)
        {
            if (keys.KeyFor(does) is { } key)
            {
                lines.Add($"  {key,-6} {says}");
            }
        }

        // What the settings bind beside these.
        foreach (var (key, does) in keys.Own.Where(bound => told.All(entry => keys.KeyFor(entry.Does) != bound.Key)))
        {
            lines.Add($"  {key,-6} {does}");
        }

        lines.AddRange([string.Empty, "Changes to type", string.Empty]);
        foreach (var (words, does) in ChangeWords.All.Select(form => (form.Usage, form.Does)).Concat(ScreenActions.Forms.Select(form => (form.Usage, form.Does))))
        {
            lines.Add($"  {words,-36} {does}");
        }

        return lines;
    }
}
