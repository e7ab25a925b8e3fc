using CsCheck;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Tunes with everything that format 2 supports.</summary>
internal sealed class RandomTunes(Random random)
{
    private static readonly string[] Meters = ["5/8 3+2", "4/4", "7/12 2+2+3", "3/7", "11/16 3+3+3+2", "2/1", "1/64"];
    private static readonly string[] Syllables = ["la", "star's", "öre,", "the old", "oh!", "!", "“so", "!late!", "!la", "a\\b"];

    private static readonly Mark[] NoteMarks = [.. TuneMarks.Names.Where(name => !name.EndsWith('(') && !name.EndsWith(')'))
        .Select(name => TuneMarks.Read(name)!).Where(mark => !TuneMarks.IsPlaced(mark.Kind)).Distinct()];

    private static readonly string[] Levels = ["pp", "p", "mf", "ff", "sfz"];
    private static readonly string[] Lines = ["phrase", "slide", "glissando", "crescendo", "diminuendo"];
    private readonly HashSet<string> _open = [];
    private int _tuplets;

    /// <summary>A tune with the meters of its section's bars.</summary>
    public static Gen<(Tune Tune, IReadOnlyList<BarMeter> Meters)> All { get; } = Gen.Int.Select(seed => new RandomTunes(new Random(seed)).Made());

    private bool Maybe(int of = 2) => random.Next(of) == 0;

    private T One<T>(IReadOnlyList<T> choices) => choices[random.Next(choices.Count)];

    private (Tune Tune, IReadOnlyList<BarMeter> Meters) Made()
    {
        var meters = Enumerable.Range(0, 1 + random.Next(6))
            .Select(_ => BarMeter.TryParse(One(Meters), out var meter, out var problem) ? meter : throw new FormatException(problem)).ToList();
        var builder = new TuneBuilder([.. meters.Select(meter => meter.Length)]);
        var lines = random.Next(3);
        for (var line = 0; line <= lines; line++)
        {
            _tuplets = 0;
            _open.Clear();
            var music = Measures(meters);
            var notes = Count(music);
            builder.Add(line == 0 ? "tune" : $"line \"{line}\"", music, [.. Enumerable.Range(0, random.Next(3)).Select(_ => Verse(notes))]);
        }

        return (builder.Made(), meters);
    }

    private TuneMeasures Measures(IReadOnlyList<BarMeter> meters)
    {
        var state = new State();
        var pickup = Maybe(3) ? Bar(meters[0].Length * new Rational(1 + random.Next(3), 4), state, isBar: false) : PartMeasure.Empty;
        var bars = meters.Select(meter => Bar(meter.Length, state, isBar: true)).ToList();
        return Closed(new TuneMeasures(pickup, bars));
    }

    private sealed class State
    {
        public Pitch? Tied { get; set; }
    }

    private PartMeasure Bar(Span length, State state, bool isBar)
    {
        if (isBar && state.Tied is null && Maybe(6))
        {
            return new PartMeasure { Voices = [new VoiceMeasure("1", [new RestEvent(null, length) { IsWholeMeasure = true }])] };
        }

        var events = new List<VoiceEvent>();
        var placed = new List<PlacedMark>();
        var at = Span.Zero;
        while (at < length)
        {
            // Lengths are read down to a millionth.
            var left = length - at;
            var part = Maybe() || left.Wholes.Denominator > 1000 ? left : left * One<Rational>([new(1, 2), new(1, 3), new(3, 4), new(2, 5)]);
            if (Maybe(3) && part.Wholes.Denominator < 1000)
            {
                Tuplet(part, [], events, placed, state, at);
            }
            else
            {
                Add(part, [], events, placed, state, at);
            }

            at += part;
        }

        return new PartMeasure { Voices = [new VoiceMeasure("1", [.. events])], Marks = [.. placed] };
    }

    // Fills a stretch with a tuplet, which may contain another.
    private void Tuplet(Span length, ValueList<Tuplet> outer, List<VoiceEvent> events, List<PlacedMark> placed, State state, Span at)
    {
        var tuplet = new Tuplet(++_tuplets, 2 + random.Next(5), 1 + random.Next(4));
        ValueList<Tuplet> all = [.. outer, tuplet];
        var count = 1 + random.Next(3);
        for (var i = 0; i < count; i++)
        {
            var each = length / count;
            if (all.Count < 3 && Maybe(5) && each.Wholes.Denominator < 1000)
            {
                Tuplet(each, all, events, placed, state, at + (each * i));
            }
            else
            {
                Add(each, all, events, placed, state, at + (each * i));
            }
        }
    }

    private void Add(Span length, ValueList<Tuplet> tuplets, List<VoiceEvent> events, List<PlacedMark> placed, State state, Span at)
    {
        var written = length / tuplets.Aggregate(Rational.One, (product, tuplet) => product * tuplet.Ratio);
        var value = NoteUnit.TryFrom(written, out var unit) ? new WrittenValue(unit, tuplets.AsSpan()) : null;
        var stated = value is null ? length : (Span?)null;
        var apart = value is null ? tuplets : [];
        Placed(placed, at);
        if (state.Tied is null && Maybe(4))
        {
            events.Add(new RestEvent(value, stated) { TupletsApart = apart, Marks = Maybe(8) ? [new Mark(MarkKind.Fermata)] : [] });
            return;
        }

        var pitch = state.Tied ?? Pitch.FromMidi(random.Next(40, 90), Maybe());
        var graces = state.Tied is null && Maybe(6) ? Enumerable.Range(0, 1 + random.Next(2)).Select(_ => Pitch.FromMidi(random.Next(50, 80))) : [];
        var tied = Maybe(5);
        events.AddRange(graces.Select(TuneBuilder.Grace));
        events.Add(new NotesEvent(
            [WrittenNote.Of(pitch) with { TiedFrom = state.Tied is null ? null : new TieEnd(), TiedTo = tied ? new TieEnd() : null }], value, stated)
        {
            TupletsApart = apart,
            Marks = [.. Marks()],
            Late = state.Tied is null && Maybe(6) ? length * new Rational(1, 1 + random.Next(2, 5)) : Span.Zero,
        });
        state.Tied = tied ? pitch : null;
    }

    private IEnumerable<Mark> Marks()
    {
        while (Maybe(3))
        {
            yield return Maybe() ? One(NoteMarks) : Line(One(Lines[..3]));
        }
    }

    private void Placed(List<PlacedMark> placed, Span at)
    {
        while (Maybe(5))
        {
            placed.Add(new PlacedMark(at, Maybe() ? TuneMarks.Read(One(Levels))! : Line(One(Lines[3..]))));
        }
    }

    private Mark Line(string name) => TuneMarks.Read(name + (_open.Remove(name) ? ")" : _open.Add(name) ? "(" : ""))!;

    // No tie and no line extends beyond the end.
    private static TuneMeasures Closed(TuneMeasures music)
    {
        var bars = music.Bars.ToList();
        var last = bars[^1].Voices[0];
        var end = last.Events[^1];
        if (end is NotesEvent { Notes: [{ TiedTo: not null } head] } notes)
        {
            bars[^1] = bars[^1] with { Voices = [last with { Events = [.. last.Events.SkipLast(1), notes.WithNotes([head with { TiedTo = null }])] }] };
        }

        var open = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (var mark in MarksOf(new TuneMeasures(music.Pickup, bars)).Where(mark => mark.Edge != MarkEdge.Single))
        {
            var name = TuneMarks.NameOf(mark)![..^1];
            open[name] = open.GetValueOrDefault(name) + 1;
        }

        var seen = new Dictionary<string, int>(StringComparer.Ordinal);
        bool Keeps(Mark mark)
        {
            if (mark.Edge == MarkEdge.Single)
            {
                return true;
            }

            var name = TuneMarks.NameOf(mark)![..^1];
            seen[name] = seen.GetValueOrDefault(name) + 1;
            return open[name] % 2 == 0 || seen[name] < open[name];
        }

        // In the order in which they are written: marks at a place come before marks on its note.
        PartMeasure Without(PartMeasure measure)
        {
            if (measure.Voices.Count == 0)
            {
                return measure;
            }

            var at = Span.Zero;
            var placed = new List<PlacedMark>();
            var events = new List<VoiceEvent>();
            foreach (var one in measure.Voices[0].Events)
            {
                if (one is not NotesEvent { Grace: not null })
                {
                    placed.AddRange(measure.Marks.Where(mark => mark.At == at && Keeps(mark.Mark)));
                }

                events.Add(one with { Marks = [.. one.Marks.Where(Keeps)] });
                at += one.Length;
            }

            return measure with { Voices = [new VoiceMeasure("1", [.. events])], Marks = [.. placed] };
        }

        return new TuneMeasures(Without(music.Pickup), [.. bars.Select(Without)]);
    }

    private static IEnumerable<Mark> MarksOf(TuneMeasures music) => music.Bars.Prepend(music.Pickup).SelectMany(measure =>
        measure.Marks.Select(mark => mark.Mark).Concat(measure.Voices.SelectMany(voice => voice.Events).SelectMany(one => one.Marks)));

    private static int Count(TuneMeasures music) => music.Bars.Prepend(music.Pickup).SelectMany(measure => measure.Voices).SelectMany(voice => voice.Events)
        .OfType<NotesEvent>().Count(notes => notes.Grace is null && notes.Notes[0].TiedFrom is null);

    private List<Syllable?> Verse(int notes)
    {
        var verse = new List<Syllable?>();
        var inWord = Maybe(6);
        while (verse.Count < notes)
        {
            // A word may go on after notes without a syllable, or begin on no note at all.
            if (Maybe(6))
            {
                verse.Add(null);
                inWord = Maybe(3);
                continue;
            }

            var over = Math.Min(notes - verse.Count, Maybe(5) ? 1 + random.Next(3) : 1);
            var goesOn = Maybe() && verse.Count + over < notes;
            var place = (inWord, goesOn) switch
            {
                (false, false) => SyllablePlace.Single,
                (false, true) => SyllablePlace.Begin,
                (true, true) => SyllablePlace.Middle,
                _ => SyllablePlace.End,
            };
            verse.Add(new Syllable(One(Syllables), place, over)
            {
                Stress = One([Stress.Unknown, Stress.Weak, Stress.Strong]),
                Late = Maybe(4) ? Span.Of(1, One<long>([8, 16, 12, 1])) : null,
            });
            verse.AddRange(Enumerable.Repeat<Syllable?>(null, over - 1));
            inWord = goesOn;
        }

        return verse;
    }
}
