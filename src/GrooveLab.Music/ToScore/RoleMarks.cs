using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>The marks of a part: strokes, fingers, strings, damped notes, slurs, dynamics and swells. Strokes and fingers are marked until the hand
/// knows them: where a section starts and where they change; then it plays "sim."</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class RoleMarks
{
    private const int SwellNumber = 2;
    private const int RiseNumber = 1;

    // Notes whose stroke is marked before alternating strokes go on by themselves.
    private const int ShownStrokes = 2;

    private static readonly Mark Down = new(MarkKind.DownBow), Up = new(MarkKind.UpBow);
    private static readonly Mark LeftHand = new(MarkKind.Fingering) { Text = "L" }, RightHand = new(MarkKind.Fingering) { Text = "R" };
    private static readonly Mark Thumb = new(MarkKind.Pluck) { Text = "p" }, Index = new(MarkKind.Pluck) { Text = "i" }, Middle = new(MarkKind.Pluck) { Text = "m" };
    private static readonly Mark Fermata = new(MarkKind.Fermata);
    private static readonly Mark[] SlurStarts = Slurs(MarkEdge.Start), SlurStops = Slurs(MarkEdge.Stop);
    private static readonly Mark Simile = new(MarkKind.Words) { Text = "sim." };
    private static readonly Mark[] Damped = [.. Enumerable.Range(0, 16).Select(head => new Mark(MarkKind.Notehead) { Text = "x", Head = head })];
    private static readonly Mark DampedAlone = new(MarkKind.Notehead) { Text = "x" };
    private static readonly string[] Dynamics = ["p", "mp", "mf", "f", "ff"];

    private readonly Part _player;
    private readonly Dictionary<int, List<PlacedMark>> _placed = [];
    private readonly List<(Span At, Mark Mark)> _later = [];
    private readonly List<(Span At, Stroke Stroke, string? Finger)> _pattern = [];
    private readonly Dictionary<BarMeter, (Span At, Stroke Stroke, string? Finger)[]> _patterns = [];
    private readonly int[] _numbers;
    private bool _showsPattern;
    private bool _saidSimile;
    private Stroke _strokeBefore;
    private int _strokesShown;
    private string? _dynamic;
    private bool _isRising;
    private bool _saidDamped;

    public RoleMarks(Part player)
    {
        _player = player;
        _numbers = NumbersOf(player.Instrument);
    }

    private bool HasStrokesByPattern => _player.Instrument.Technique is Technique.Plectrum or Technique.Fingers;

    /// <summary>Adds a mark at a place of a measure that is not finished yet.</summary>
    public void Place(int measure, PlacedMark mark)
    {
        if (!_placed.TryGetValue(measure, out var list))
        {
            _placed.Add(measure, list = []);
        }

        list.Add(mark);
    }

    /// <summary>Begins a measure, before its notes are written.</summary>
    public void Begin(ScoreMeasure measure, List<ScoredChord> chords)
    {
        if (measure.StartsRun)
        {
            (_strokeBefore, _strokesShown, _saidSimile) = (Stroke.None, 0, false);
            _patterns.Clear();
        }

        FollowPattern(measure, chords);
        AddDynamics(measure, chords);
        AddSwells(measure, chords);
        if (measure.StartsRun && measure.Place?.Run.Section.StopTime == true && _player.Role is not (Role.Tune or Role.Count))
        {
            Place(measure.Index, Words(Span.Zero, "stop time"));
        }

        for (var i = 0; i < chords.Count && !_saidDamped; i++)
        {
            if (chords[i].First.Played.Touch == Touch.Damped)
            {
                _saidDamped = true;
                Place(measure.Index, Words(chords[i].Onset - measure.Start, "x = damped"));
            }
        }

        for (var i = 0; i < _later.Count; i++)
        {
            var (at, mark) = _later[i];
            if (at < measure.End || (mark.Edge == MarkEdge.Stop && at == measure.End))
            {
                Place(measure.Index, new PlacedMark(at - measure.Start, mark));
                _later.RemoveAt(i--);
            }
        }
    }

    /// <summary>The marks at places of a measure, in order; they are then forgotten.</summary>
    public ValueList<PlacedMark> Marks(ScoreMeasure measure)
    {
        if (!_placed.Remove(measure.Index, out var list))
        {
            return [];
        }

        // A line ends before the next one begins.
        return [.. list.OrderBy(mark => mark.At).ThenBy(mark => mark.Mark.Edge == MarkEdge.Stop ? 0 : 1)];
    }

    /// <summary>The marks on a chord's first or later value.</summary>
    /// <param name="chord">The chord.</param>
    /// <param name="begins">True on its first value.</param>
    /// <param name="ends">True on its last value.</param>
    public ValueList<Mark> Of(ScoredChord chord, bool begins, bool ends)
    {
        List<Mark>? marks = null;
        var first = chord.First;
        if (first.Played.Touch == Touch.Damped)
        {
            for (var head = 0; head < chord.Notes.Count; head++)
            {
                (marks ??= []).Add(chord.Notes.Count == 1 ? DampedAlone : Damped[Math.Min(head, Damped.Length - 1)]);
            }
        }

        if (begins)
        {
            AddHand(first, ref marks);
        }

        foreach (var note in chord.Notes)
        {
            foreach (var mark in note.Tune is { Marks: var ofTune } ? ofTune.AsSpan() : [])
            {
                if (BelongsToTheEnd(mark) ? ends : begins)
                {
                    (marks ??= []).Add(mark.Head is null ? mark : mark with { Head = null });
                }
            }
        }

        foreach (var note in chord.Notes)
        {
            // Each line has slurs of its own: lines that move together in one bar part in the next. A slur goes from the first to the last of tied
            // notes, unless the bow turns in them.
            if (note.EndsSlur && (note.IsHeldOn ? begins : ends))
            {
                (marks ??= []).Add(SlurStops[note.Line]);
            }

            if (note.StartsSlur && (note.IsHeldOn ? ends : begins))
            {
                (marks ??= []).Add(SlurStarts[note.Line]);
            }
        }

        if (ends && first.IsHeldAtAStop && marks?.Exists(mark => mark.Kind == MarkKind.Fermata) != true)
        {
            (marks ??= []).Add(Fermata);
        }

        return marks is null ? [] : [.. marks];
    }

    private static bool BelongsToTheEnd(Mark mark) =>
        mark.Edge == MarkEdge.Stop || mark.Kind is MarkKind.BreathMark or MarkKind.Caesura or MarkKind.Fermata;

    private static Mark[] Slurs(MarkEdge edge) => [.. Enumerable.Range(1, PartScorer.MostLines).Select(number => new Mark(MarkKind.Slur) { Edge = edge, Number = number })];

    private static PlacedMark Words(Span at, string text) => new(at, new Mark(MarkKind.Words) { Text = text });

    private void AddHand(ScoredNote note, ref List<Mark>? marks)
    {
        var played = note.Played;
        if (HasStrokesByPattern ? _showsPattern : ShowsAlternate(played.Stroke))
        {
            if (StrokeMark(played.Stroke) is { } stroke)
            {
                (marks ??= []).Add(stroke);
            }

            if (FingerMark(played.Finger) is { } finger)
            {
                (marks ??= []).Add(finger);
            }
        }

        _strokeBefore = played.Stroke == Stroke.None ? _strokeBefore : played.Stroke;
        if (_player.Role == Role.Roll && played.String > 0 && IsOnAnUnusualString(played))
        {
            (marks ??= []).Add(new Mark(MarkKind.String) { Text = _numbers[played.String - 1].ToString(System.Globalization.CultureInfo.InvariantCulture) });
        }
    }

    private static Mark? StrokeMark(Stroke stroke) => stroke switch
    {
        Stroke.Down => Down,
        Stroke.Up => Up,
        Stroke.Left => LeftHand,
        Stroke.Right => RightHand,
        _ => null,
    };

    private static Mark? FingerMark(string? finger) => finger switch
    {
        "thumb" => Thumb,
        "index" => Index,
        "middle" => Middle,
        _ => null,
    };

    // Bows and hammers alternate: the first two are enough. Notes in the same bow have one mark together.
    private bool ShowsAlternate(Stroke stroke)
    {
        if (stroke == Stroke.None || stroke == _strokeBefore || _strokesShown >= ShownStrokes)
        {
            return false;
        }

        _strokesShown++;
        return true;
    }

    // A number where the note would be nearer the nut on another string.
    private bool IsOnAnUnusualString(NoteEvent played)
    {
        var strings = _player.Instrument.Strings;
        if (played.String > strings.Count)
        {
            return false;
        }

        var fret = played.Key - strings[played.String - 1];
        for (var i = 0; i < strings.Count; i++)
        {
            if (!(i == 0 && _player.Instrument.ShortDrone) && played.Key >= strings[i] && played.Key - strings[i] < fret)
            {
                return true;
            }
        }

        return false;
    }

    // String 1 is the highest; a short drone is the last.
    private static int[] NumbersOf(Instrument instrument)
    {
        var strings = instrument.Strings;
        var numbers = new int[strings.Count];
        for (var i = 0; i < strings.Count; i++)
        {
            numbers[i] = i == 0 && instrument.ShortDrone ? strings.Count
                : 1 + Enumerable.Range(instrument.ShortDrone ? 1 : 0, strings.Count - (instrument.ShortDrone ? 1 : 0)).Count(other => strings[other] > strings[i]);
        }

        return numbers;
    }

    private void FollowPattern(ScoreMeasure measure, List<ScoredChord> chords)
    {
        if (!HasStrokesByPattern)
        {
            return;
        }

        _pattern.Clear();
        foreach (var chord in chords)
        {
            if (chord.First.Played is { } played && (played.Stroke != Stroke.None || played.Finger is not null))
            {
                _pattern.Add((chord.Onset - measure.Start, played.Stroke, played.Finger));
            }
        }

        var same = _pattern.Count > 0 && _patterns.TryGetValue(measure.Meter, out var known) && _pattern.SequenceEqual(known);
        _showsPattern = !same;
        if (same && !_saidSimile)
        {
            Place(measure.Index, new PlacedMark(Span.Zero, Simile));
        }

        _saidSimile = same || (_pattern.Count == 0 && _saidSimile);
        if (_pattern.Count > 0 && !same)
        {
            _patterns[measure.Meter] = [.. _pattern];
        }
    }

    private void AddDynamics(ScoreMeasure measure, List<ScoredChord> chords)
    {
        var place = measure.Place;
        var isOurs = place is not null && _player.Role != Role.Count && !HasOwnDynamics(place.Run.Section);
        if (_isRising && (!measure.Rises || measure.StartsRun || !isOurs))
        {
            _isRising = false;
            Place(measure.Index, new PlacedMark(Span.Zero, Wedge(MarkEdge.Stop, null, RiseNumber)));
        }

        if (!isOurs || chords.Count == 0)
        {
            return;
        }

        var dynamic = Dynamics[Math.Clamp(measure.Bar.Tasks.Energy, BarTasks.Least, BarTasks.Most) - 1];
        if (dynamic != _dynamic)
        {
            _dynamic = dynamic;
            Place(measure.Index, new PlacedMark(chords[0].Onset - measure.Start, new Mark(MarkKind.Dynamics) { Text = dynamic }));
        }

        if (measure.Rises && !_isRising)
        {
            _isRising = true;
            Place(measure.Index, new PlacedMark(chords[0].Onset - measure.Start, Wedge(MarkEdge.Start, "crescendo", RiseNumber)));
        }
    }

    private bool HasOwnDynamics(Section section) => _player.Role == Role.Tune && section.Tune is { Melody.Dynamics.Count: > 0 };

    /// <summary>Ends what is still open.</summary>
    public void End(ScoreMeasure last)
    {
        if (_isRising)
        {
            _isRising = false;
            Place(last.Index, new PlacedMark(last.Length, Wedge(MarkEdge.Stop, null, RiseNumber)));
        }
    }

    // Each long bow of the first bar group swells and falls; the player goes on so.
    private void AddSwells(ScoreMeasure measure, List<ScoredChord> chords)
    {
        if (_player.Role != Role.Sustain || measure.Place is not { } place || place.GroupPlace.Group > 0 || place.Stop != BandStop.None || measure.Rises || _isRising)
        {
            return;
        }

        foreach (var chord in chords)
        {
            var length = chord.End - chord.Onset;
            if (chord.First.Line == 0 && length >= measure.Length && chord.Notes.TrueForAll(note => !note.StartsSlur && !note.EndsSlur))
            {
                var middle = chord.Onset + (length / 2);
                _later.Add((chord.Onset, Wedge(MarkEdge.Start, "crescendo", SwellNumber)));
                _later.Add((middle, Wedge(MarkEdge.Stop, null, SwellNumber)));
                _later.Add((middle, Wedge(MarkEdge.Start, "diminuendo", SwellNumber)));
                _later.Add((chord.End, Wedge(MarkEdge.Stop, null, SwellNumber)));
            }
        }
    }

    private static Mark Wedge(MarkEdge edge, string? text, int number) => new(MarkKind.Wedge) { Edge = edge, Text = text, Number = number };
}
