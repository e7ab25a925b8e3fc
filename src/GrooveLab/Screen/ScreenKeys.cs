using System.Globalization;
using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using GrooveLab.Store;

namespace GrooveLab.Screen;

/// <summary>
/// Carries out keys, pedals and typed words, and keeps the state of the screen. Independent of the terminal: a key has a name and the
/// time at which it was pressed.
/// </summary>
internal sealed class ScreenKeys(KeySettings keys)
{
    private const double QuitAgainSeconds = 4;
    private const double MessageSeconds = 8;

    private readonly ScreenStateUpdater _updater = new();
    private readonly ScreenState _screen = new();
    private readonly List<double> _taps = [];
    private readonly List<string> _typedBefore = [];
    private IScreenPerformance? _performance;
    private double _quitAsked = double.NegativeInfinity;
    private double _messageAt = double.NegativeInfinity;
    private string? _tapped;
    private string? _typed;
    private IReadOnlyList<string>? _over;
    private int _overFrom;
    private int _selected;
    private bool _drawAgain;

    /// <summary>What the player requests from the program; the program resets it to <see cref="ScreenRequest.None"/>.</summary>
    public ScreenRequest Request { get; set; }

    /// <summary>The chart to open.</summary>
    public string ChartToOpen { get; private set; } = string.Empty;

    /// <summary>Switches to another performance.</summary>
    public void Show(IScreenPerformance performance)
    {
        _performance = performance;
        _taps.Clear();
        _selected = Math.Min(_selected, performance.Conductor.State.Chart.Parts.Count - 1);
        _screen.Keys = Six();
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
            _screen.Keys = Six();
            return _screen;
        }

        var heard = _performance.Heard;
        _performance.Conductor.Update(_performance.News(), heard);
        _updater.Update(_screen, heard, _performance.Conductor);
        _screen.Health = _performance.Health;
        _selected = Math.Clamp(_selected, 0, _performance.Conductor.Sounding.Chart.Parts.Count - 1);
        _screen.Selected = _selected;
        _screen.Typed = _typed;
        _screen.Over = _over;
        _screen.OverFrom = _overFrom;
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
        if (does == "redraw" && (_typed is null || key.StartsWith("ctrl+", StringComparison.Ordinal)))
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

        if (_typed is not null)
        {
            Type(key, now);
            return;
        }

        if (_over is not null && key is "pagedown" or "pageup" or "down" or "up")
        {
            var step = key.StartsWith("page", StringComparison.Ordinal) ? 10 : 1;
            _overFrom = Math.Clamp(_overFrom + (key.EndsWith('p') ? -step : step), 0, Math.Max(0, _over.Count - 5));
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

    /// <summary>Handles a pedal or controller: "cc64", "note36", "program3".</summary>
    public void Pedal(string pedal, double now)
    {
        if (_performance is null)
        {
            return;
        }

        if (keys.PedalDoes(pedal) is { } does)
        {
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
        var (verb, rest) = gap < 0 ? (does, string.Empty) : (does[..gap], does[(gap + 1)..].Trim());
        switch (verb)
        {
            case "tap":
                Tap(now);
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
                _typed = rest.Length > 0 ? rest + " " : string.Empty;
                break;
            case "more":
                (_over, _overFrom) = (_over is null ? Help() : null, 0);
                break;
            case "back":
                _over = null;
                _screen.Message = string.Empty;
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
            case "open" when rest.Length == 0:
                Say("incomplete; usage: open FILE", warns: true, now);
                break;
            case "open":
                (ChartToOpen, Request) = (UserFolders.Typed(rest), ScreenRequest.Open);
                break;
            case "restart" when _performance!.Heard.State >= TransportState.Ended:
                Request = ScreenRequest.Again;
                break;
            case "redraw" when rest.Length == 0:
                _drawAgain = true;
                break;
            case "quit":
                if ((rest == "now" && !_performance!.IsUnsaved) || now - _quitAsked < QuitAgainSeconds)
                {
                    Request = ScreenRequest.Quit;
                }
                else
                {
                    _quitAsked = now;
                    var isUnsaved = _performance!.IsUnsaved;
                    var isKept = !isUnsaved || _performance.KeepNow();
                    Say(
                        isUnsaved
                            ? $"unsaved changes: {keys.KeyFor("save") ?? "save"} saves; press again to leave"
                                + (isKept ? "; the next start offers them" : " and lose them: they could not be kept for the next start")
                            : "press again to leave",
                        warns: isUnsaved,
                        now);
                }

                break;
            default:
                Change(does, now);
                break;
        }
    }

    private string Chosen => _performance!.Conductor.Sounding.Chart.Parts[Math.Clamp(_selected, 0, _performance.Conductor.Sounding.Chart.Parts.Count - 1)].Name;

    private void Change(string words, double now)
    {
        // A question would stand in a player's way: the change is made for the whole chart, and one word limits it.
        var answer = _performance!.Conductor.Do(words);
        var offer = answer is { Taken: true, Section: { } section } ? $"; 'here' limits it to {section}" : string.Empty;
        Say(answer.Says + offer, !answer.Taken, now);
    }

    private void Change(Change change, double now)
    {
        var answer = _performance!.Conductor.Do(change);
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
        var state = _performance!.Conductor.State;
        var bar = state.BarAt(_performance.Conductor.Place);
        var tempo = state.TempoIn(bar, _performance.Conductor.Place.Ordinal);
        return TempoGoal.SmallStep(FeltTempo.Of(bar.Felt, bar.Meter, tempo, bar.GroupPlace.Size));
    }

    private void Tap(double now)
    {
        var conductor = _performance!.Conductor;
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
        if (TapTempo.Hear(row, bar.Meter, bar.GroupPlace.Size, around) is not { } heard)
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

    private void Type(string key, double now)
    {
        switch (key)
        {
            case "esc":
                _typed = null;
                break;
            case "backspace":
                _typed = _typed!.Length > 0 ? _typed[..^1] : null;
                break;
            case "space":
                _typed += " ";
                break;
            case "up" when _typedBefore.Count > 0:
                _typed = _typedBefore[^1];
                break;
            case "tab":
                _typed = Completed(_typed!);
                break;
            case "enter":
                var words = _typed!.Trim();
                _typed = null;
                if (words.Length > 0)
                {
                    _typedBefore.Add(words);
                    Act(words == "quit" ? "quit now" : words, now);
                }

                break;
            default:
                _typed += key.Length == 1 ? key : string.Empty;
                break;
        }
    }

    private static string Completed(string typed)
    {
        var verbs = ChangeWords.All.Select(form => form.Verb).Concat(["save", "discard", "open", "quit"]).ToList();
        var fits = verbs.Where(verb => verb.StartsWith(typed, StringComparison.Ordinal)).ToList();
        return fits.Count == 1 ? fits[0] + " " : typed;
    }

    private List<(string Key, string Does)> Six() =>
    [
        .. new[] { ("go-on", "go on"), ("feel other", "beats/bar"), ("tap", "tap"), ("undo", "undo"), ("type", "change"), ("more", "more") }
            .Select(pair => (keys.KeyFor(pair.Item1), pair.Item2))
            .Where(pair => pair.Item1 is not null)
            .Select(pair => (pair.Item1!, pair.Item2)),
    ];

    private List<string> Help()
    {
        (string Does, string Says)[] told =
        [
            ("go-on", "go on: out of a vamp, a loop, a hold"), ("feel other", "feel the beats, or the whole bar"),
            ("feel wider", "feel it wider: beats, groups, bar, bar group"), ("feel narrower", "feel it narrower"), ("tap", "tap the tempo"),
            ("faster", "a little faster"), ("slower", "a little slower"), ("undo", "undo"), ("redo", "redo"),
            ("hear other", "hear A or B from the same bar"), ("part 1", "select a part (1 to 9)"), ("mute", "mute the selected part"),
            ("solo", "solo the selected part"), ("softer", "the selected part softer"), ("louder", "the selected part louder"),
            ("all softer", "everything softer"), ("all louder", "everything louder"), ("count", "clicks on or off"),
            ("vamp", "vamp on this section until go on"), ("loop section", "loop this section"),
            ("loop seam", "loop the seam to the next section"), ("last-time", "last time"), ("hold", "hold the next downbeat"),
            ("break 1", "a break of one bar"), ("tag 4", "the last four bars three times"), ("restart", "from the top"),
            ("type", "type any change"), ("save", "save the chart"), ("redraw", "draw the screen again"), ("quit", "leave (twice)"), ("back", "back"),
        ];
        var lines = new List<string>();
        var health = _performance!.Health;
        if (!health.IsGood)
        {
            lines.AddRange(["Problems while playing", string.Empty, .. health.Entries.Select(entry => "  " + entry.Words)]);
            if (health.Failures.Count > 0)
            {
                lines.Add("  details in " + Survived.File.Path);
            }

            lines.Add(string.Empty);
        }

        if (keys.Problems.Count > 0)
        {
            lines.AddRange(["Problems in the settings", string.Empty, .. keys.Problems.Select(problem => "  " + problem), string.Empty]);
        }

        lines.AddRange(["Keys (esc: back; up, down: scroll)", string.Empty]);
        foreach (var (does, says) in told)
        {
            if (keys.KeyFor(does) is { } key)
            {
                lines.Add($"  {key,-6} {says}");
            }
        }

        lines.AddRange([string.Empty, "Changes to type", string.Empty]);
        foreach (var (words, does) in ChangeWords.All.Select(form => (form.Usage, form.Does)).Concat(
            [
                ("save FILE", "save the chart to another file"), ("save anyway", "replace a file that changed or exists"),
                ("discard", "delete earlier unsaved changes"), ("open FILE", "play another chart"), ("quit", "leave"),
            ]))
        {
            lines.Add($"  {words,-36} {does}");
        }

        return lines;
    }
}
