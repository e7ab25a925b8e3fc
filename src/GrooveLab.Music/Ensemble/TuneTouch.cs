using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The effect of a tune line's marks on its notes: length and loudness. Without marks each note lasts its value at the tune's
/// own level.</summary>
/// <remarks>
/// Common practice, no source: a staccato note sounds half its value, a wedge a quarter, a portato or marcato three quarters; a breath takes at least
/// 300 ms from the end of its note, and at most half of it; a tenuto note reaches into the next.
/// </remarks>
internal sealed class TuneTouch
{
    private const int BreathMilliseconds = 300;
    private const int TenutoMicroseconds = 30_000;
    private const int HairpinSteps = 9;
    private readonly TuneVoice _voice;
    private readonly List<(Span Onset, int Steps)> _levels = [];
    private readonly List<(Span From, Span To, int Begins, int Ends)> _hairpins = [];

    /// <summary>Reads the dynamics of a line.</summary>
    public TuneTouch(TuneVoice voice)
    {
        _voice = voice;
        foreach (var dynamic in voice.Dynamics)
        {
            if (dynamic.Mark.Kind == MarkKind.Dynamics && LevelOf(dynamic.Mark.Text) is { } steps)
            {
                _levels.Add((dynamic.Onset, steps));
            }
        }

        TuneDynamic? begun = null;
        foreach (var dynamic in voice.Dynamics.Where(dynamic => dynamic.Mark.Kind == MarkKind.Wedge))
        {
            if (dynamic.Mark.Edge == MarkEdge.Start)
            {
                begun = dynamic;
            }
            else if (begun is not null && dynamic.Onset > begun.Onset)
            {
                AddHairpin(begun, dynamic.Onset);
                begun = null;
            }
        }
    }

    /// <summary>The velocity steps added to the tune's own level for a note.</summary>
    public int StepsOf(TuneNote note)
    {
        var steps = LevelAt(note.Onset);
        foreach (var (from, to, begins, ends) in _hairpins)
        {
            if (note.Onset >= from && note.Onset < to)
            {
                steps = begins + (int)((ends - begins) * ((note.Onset - from) / (to - from))).Round();
            }
        }

        foreach (var dynamic in _voice.Dynamics)
        {
            if (dynamic.Onset == note.Onset && dynamic.Mark.Kind == MarkKind.Dynamics && IsAccent(dynamic.Mark.Text))
            {
                steps += 16;
            }
        }

        // Several accents on a note count as one, as strong as the strongest.
        return steps + (note.Has(MarkKind.Unstress) ? -8 : 0) + note.Marks.Select(mark => AccentOf(mark.Kind)).DefaultIfEmpty().Max();
    }

    private static int AccentOf(MarkKind kind) => kind switch
    {
        MarkKind.StrongAccent => 20,
        MarkKind.Accent => 14,
        MarkKind.SoftAccent or MarkKind.Stress => 8,
        _ => 0,
    };

    /// <summary>The sounding length of a note.</summary>
    /// <param name="index">The note's number in the line.</param>
    /// <param name="from">The first bar line of the line's section, the origin of places for tempi.</param>
    /// <param name="tempoAt">The tempo at a place.</param>
    public Span LengthOf(int index, Span from, Func<Span, Tempo> tempoAt)
    {
        var note = _voice.Notes[index];
        var length = note.Length;
        if (note.Has(MarkKind.Staccatissimo) || note.Has(MarkKind.Spiccato))
        {
            length /= 4;
        }
        else if (note.Has(MarkKind.DetachedLegato) || (note.Has(MarkKind.Staccato) && note.Has(MarkKind.Tenuto)) || note.Has(MarkKind.StrongAccent))
        {
            length *= new Rational(3, 4);
        }
        else if (note.Has(MarkKind.Staccato))
        {
            length /= 2;
        }

        if (note.Has(MarkKind.BreathMark) || note.Has(MarkKind.Caesura))
        {
            var breath = Span.Of((tempoAt(from + note.Onset).WholesPerMinute * BreathMilliseconds / 60_000 * 960).Ceiling(), 960);
            var next = index + 1 < _voice.Notes.Count ? _voice.Notes[index + 1].Onset : note.Onset + note.Length;
            length = Span.Max(Span.Min(length, next - note.Onset - breath), Span.Min(length, note.Length / 2));
        }

        return length;
    }

    /// <summary>How far a note sounds into the next one, in microseconds.</summary>
    public int OverlapOf(int index)
    {
        var note = _voice.Notes[index];
        var next = index + 1 < _voice.Notes.Count ? _voice.Notes[index + 1] : null;
        var holds = note.Has(MarkKind.Tenuto) && !note.Has(MarkKind.Staccato) && !note.Has(MarkKind.BreathMark) && !note.Has(MarkKind.Caesura);
        return holds && next is not null && next.Onset == note.Onset + note.Length && next.Pitch.Midi != note.Pitch.Midi ? TenutoMicroseconds : 0;
    }

    // To the dynamic at its end if that is in the hairpin's direction; otherwise one step.
    private void AddHairpin(TuneDynamic begun, Span end)
    {
        var rises = begun.Mark.Text == "crescendo";
        var begins = LevelAt(begun.Onset);
        var ends = begins + (rises ? HairpinSteps : -HairpinSteps);
        foreach (var (onset, steps) in _levels)
        {
            if (onset == end && steps > begins == rises)
            {
                ends = steps;
            }
        }

        _hairpins.Add((begun.Onset, end, begins, ends));
        if (!_levels.Exists(level => level.Onset == end))
        {
            _levels.Add((end, ends));
            _levels.Sort((a, b) => a.Onset.CompareTo(b.Onset));
        }
    }

    private int LevelAt(Span onset)
    {
        var steps = 0;
        foreach (var (from, level) in _levels)
        {
            if (from > onset)
            {
                break;
            }

            steps = level;
        }

        return steps;
    }

    private static bool IsAccent(string? text) => text is "sf" or "sfz" or "sffz" or "fz" or "fp" or "sfp" or "rf" or "rfz";

    private static int? LevelOf(string? text) => text switch
    {
        "n" => -50,
        "pppp" => -40,
        "ppp" => -33,
        "pp" => -25,
        "p" or "fp" or "sfp" => -16,
        "mp" => -7,
        "mf" => 0,
        "f" => 9,
        "ff" => 17,
        "fff" => 24,
        "ffff" => 30,
        _ => null,
    };
}
