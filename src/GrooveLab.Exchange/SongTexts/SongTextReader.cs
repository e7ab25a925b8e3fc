using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Analysis;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.SongTexts;

/// <summary>Reads words with chord names above them as written music. A text says neither rhythm nor pitch: syllables fall on the chords above them
/// and are spread evenly between, on chord tones near one pitch; both are marked as inferred.</summary>
public static class SongTextReader
{
    /// <summary>The kind of <see cref="Annotation"/> on notes whose rhythm and pitch no one wrote.</summary>
    public const string Inferred = "inferred";

    /// <summary>The meter of a text that names none.</summary>
    public const string UsualMeter = "4/4";

    /// <summary>Maximum size of a text, in bytes.</summary>
    public const int LargestFile = 200_000;

    /// <summary>Maximum number of bars, all repetitions written out.</summary>
    public const int MostBars = 20_000;

    /// <summary>Reads a text.</summary>
    /// <param name="bytes">The text, in UTF-8.</param>
    /// <param name="options">The file's name, and meter, key, tempo and bars for each line, which the text may lack.</param>
    public static ScoreReading Read(ReadOnlyMemory<byte> bytes, ScoreOptions options)
    {
        if (bytes.Length > LargestFile)
        {
            return Refused(options.Name, 1, "the text is larger than 200 kB", "divide it into several songs");
        }

        string text;
        try
        {
            text = new UTF8Encoding(false, throwOnInvalidBytes: true).GetString(bytes.Span).TrimStart('\uFEFF');
        }
        catch (DecoderFallbackException problem)
        {
            var line = 1 + bytes.Span[..Math.Clamp(problem.Index, 0, bytes.Length)].Count((byte)'\n');
            return Refused(options.Name, line, "this is not UTF-8 text", "save words with chords as UTF-8 text; other scores are MusicXML, MIDI and ABC");
        }

        var control = text.AsSpan().IndexOfAnyInRange('\0', '\u0008');
        return control >= 0
            ? Refused(options.Name, 1 + text.AsSpan(0, control).Count('\n'), "this is not a text", "give words with chord names above them, MusicXML, MIDI or ABC")
            : new Song(SongText.Of(text, options.Name), options).Read();
    }

    /// <summary>Whether a text names no meter, and neither do the options.</summary>
    /// <param name="bytes">The text.</param>
    /// <param name="options">The options.</param>
    /// <returns>False for a text that <see cref="Read"/> refuses.</returns>
    public static bool LacksMeter(ReadOnlyMemory<byte> bytes, ScoreOptions options) =>
        options.Meter is null && TextOf(bytes, options) is { Meter: null, Errors.Count: 0 };

    /// <summary>The bars that <see cref="Read"/> assumes for each line of words.</summary>
    /// <param name="bytes">The text.</param>
    /// <param name="options">The options, with the meter if the text names none.</param>
    /// <returns>Null if the options or bar lines say it, and for a text or meter that is refused.</returns>
    public static int? AssumedBarsInLine(ReadOnlyMemory<byte> bytes, ScoreOptions options)
    {
        if (options.BarsInLine is not null || TextOf(bytes, options) is not { Errors.Count: 0 } text
            || Music.Charts.MeterMark.Read(options.Meter ?? text.Meter?.Text ?? UsualMeter, null, string.Empty, out _) is not { } meter)
        {
            return null;
        }

        var open = text.Parts.SelectMany(part => part.Lines).Where(line => !line.Chords.Any(chord => chord.IsBarLine)).ToList();
        return open.Count == 0 ? null : LineLayout.UsualBars(open, meter);
    }

    private static SongText? TextOf(ReadOnlyMemory<byte> bytes, ScoreOptions options)
    {
        try
        {
            return bytes.Length > LargestFile ? null : SongText.Of(new UTF8Encoding(false, throwOnInvalidBytes: true).GetString(bytes.Span).TrimStart('\uFEFF'), options.Name);
        }
        catch (DecoderFallbackException)
        {
            return null;
        }
    }

    private static ScoreReading Refused(string name, int line, string what, string remedy) =>
        new([new ScoreRemark(new Origin(name, line, null), what, remedy)], []);

    /// <summary>A note in time.</summary>
    private sealed record Sung(Span Onset, Span End, Pitch Pitch, TextSyllable? Syllable, Origin Origin);

    // A part of the song with its lines, all repetitions resolved.
    private sealed record Played(SongPart Part, IReadOnlyList<SongLine> Lines, int Verse, List<Played> Family);

    private sealed class Song(SongText text, ScoreOptions options)
    {
        private readonly List<ScoreRemark> _errors = [.. text.Errors];
        private readonly List<ScoreRemark> _warnings = [];
        private readonly List<(Span At, ChordSymbol Chord, int Line)> _chords = [];
        private readonly List<Sung> _notes = [];
        private readonly List<(int Bar, string Text, int Line)> _headings = [];
        private int _bars;

        public ScoreReading Read()
        {
            var meter = Meter();
            var key = Key();
            var tempo = Tempo(meter);
            if (_errors.Count > 0 || meter is null)
            {
                return new ScoreReading([.. _errors.OrderBy(error => error.Place.Line)], _warnings);
            }

            var played = Parts();
            Place(played, meter);
            if (_errors.Count > 0)
            {
                return new ScoreReading([.. _errors.OrderBy(error => error.Place.Line)], _warnings);
            }

            if (_notes.Count > 0)
            {
                Warn(1, "rhythm and pitch are not in the text", "the syllables fall on the chords above them, on chord tones; write the notes in the chart, or tap the rhythm on the screen (key T)");
            }

            return new ScoreReading(Written(meter, key ?? KeyFromChords(), tempo), [.. _warnings.OrderBy(warning => warning.Place.Line)], []);
        }

        private void Error(int line, string what, string remedy) => _errors.Add(new ScoreRemark(new Origin(options.Name, line, null), what, remedy));

        private void Warn(int line, string what, string remedy) => _warnings.Add(new ScoreRemark(new Origin(options.Name, line, null), what, remedy));

        private BarMeter? Meter()
        {
            var (given, line) = options.Meter is { } option ? (option, 0) : text.Meter ?? ("", 0);
            if (given.Length == 0)
            {
                Warn(1, "no meter is given; 4/4 is assumed", "write a line Meter: 5/8 3+2 at the top, or give --meter \"5/8 3+2\"");
                given = UsualMeter;
            }

            if (Music.Charts.MeterMark.Read(given, null, "write a meter such as 5/8 3+2", out var problem) is { } meter)
            {
                return meter;
            }

            Error(Math.Max(1, line), (line == 0 ? "--meter: " : "") + problem!.Value.What, problem.Value.Accepted);
            return null;
        }

        private Key? Key()
        {
            var (given, line) = options.Key is { } option ? (option, 0) : text.Key ?? ("", 0);
            if (given.Length == 0)
            {
                return null;
            }

            if (Music.Harmony.Key.TryParse(given, out var key, out var problem))
            {
                return key;
            }

            Error(Math.Max(1, line), (line == 0 ? "--key: " : "") + problem, "");
            return null;
        }

        private TempoMark Tempo(BarMeter? meter)
        {
            var (given, line) = options.Tempo is { } option ? (option, 0) : text.Tempo ?? ("", 0);
            if (given.Length == 0)
            {
                Warn(1, "no tempo is given; quarter = 100 is assumed", "write a line Tempo: quarter = 96 at the top, or give --tempo \"quarter = 96\"");
                given = "quarter = 100";
            }

            if (!TempoText.TryMark(given, out var mark, out var problem))
            {
                Error(Math.Max(1, line), (line == 0 ? "--tempo: " : "") + problem, "write a beat and its number a minute, such as quarter = 96");
                return mark;
            }

            try
            {
                _ = meter is null ? default : mark.At(meter, meter.Length * 4);
            }
            catch (ChartProblemException wrong)
            {
                Error(Math.Max(1, line), (line == 0 ? "--tempo: " : "") + wrong.Message, "");
            }

            return mark;
        }

        // The parts in the order of singing, with the lines of parts that only repeat a heading, and the chords of lines without any.
        private List<Played> Parts()
        {
            var families = new Dictionary<string, List<Played>>(StringComparer.Ordinal);
            var result = new List<Played>();
            var unnamed = 0;
            foreach (var part in text.Parts)
            {
                var kind = part.Kind.Length > 0 ? part.Kind : "part";
                var lines = part.Lines.SelectMany(line => Enumerable.Repeat(line, line.Times)).ToList();
                var earlier = families.GetValueOrDefault(kind);
                if (lines.Count == 0)
                {
                    if ((result.FindLast(one => one.Part.Heading.Equals(part.Heading, StringComparison.OrdinalIgnoreCase) && one.Lines.Count > 0) ?? earlier?[0]) is not { } same)
                    {
                        Warn(part.Line, $"'{part.Heading}' has no words and no chords, and no earlier part has that name", "it is left out");
                        continue;
                    }

                    lines = [.. same.Lines];
                }

                if (earlier is not null && lines.TrueForAll(line => line.Chords.Count == 0) && lines.Count == earlier[0].Lines.Count)
                {
                    lines = [.. lines.Select((line, i) => WithChords(line, earlier[0].Lines[i]))];
                }

                var family = earlier is not null && Fits(lines, earlier[0].Lines) ? earlier : null;
                if (family is null)
                {
                    if (part.Kind.Length == 0)
                    {
                        unnamed++;
                    }

                    family = [];
                    families.TryAdd(kind, family);
                }

                for (var time = 0; time < part.Times; time++)
                {
                    // The same words again are the same verse.
                    var verse = family.Find(other => SameWords(other.Lines, lines))?.Verse ?? family.Select(other => other.Verse).DefaultIfEmpty(-1).Max() + 1;
                    var played = new Played(part, lines, verse, family);
                    family.Add(played);
                    result.Add(played);
                }

                if (result.Count > MostBars)
                {
                    Error(part.Line, $"the song has more than {MostBars} bars", "write fewer repetitions");
                    break;
                }
            }

            return result;
        }

        // The line with the chords of another, each over the syllable of the same number.
        private static SongLine WithChords(SongLine line, SongLine other)
        {
            if (line.Syllables.Count == 0 || other.Syllables.Count == 0)
            {
                return line with { Chords = other.Chords };
            }

            var chords = new List<ChordAbove>();
            foreach (var chord in other.Chords)
            {
                var index = other.Syllables.TakeWhile(syllable => syllable.End <= chord.Column).Count();
                var here = index >= other.Syllables.Count ? line.Syllables.Count : index * line.Syllables.Count / other.Syllables.Count;
                chords.Add(chord with { Column = here < line.Syllables.Count ? line.Syllables[here].Column : line.Syllables[^1].End + chord.Column });
            }

            return line with { Chords = chords };
        }

        private static bool Fits(List<SongLine> lines, IReadOnlyList<SongLine> others) =>
            lines.Count == others.Count && lines.Zip(others).All(pair =>
                pair.First.Chords.Select(chord => chord.Text).SequenceEqual(pair.Second.Chords.Select(chord => chord.Text), StringComparer.Ordinal)
                && pair.First.Syllables.Count == 0 == (pair.Second.Syllables.Count == 0));

        private static bool SameWords(IReadOnlyList<SongLine> lines, IReadOnlyList<SongLine> others) =>
            lines.SelectMany(line => line.Syllables).Select(syllable => syllable.Text).SequenceEqual(others.SelectMany(line => line.Syllables).Select(syllable => syllable.Text), StringComparer.OrdinalIgnoreCase);

        private void Place(List<Played> played, BarMeter meter)
        {
            var all = played.SelectMany(part => part.Lines).ToList();
            var open = all.FindAll(line => !line.Chords.Any(chord => chord.IsBarLine));
            var bars = options.BarsInLine ?? LineLayout.UsualBars(open, meter);
            if (open.Count > 0 && options.BarsInLine is null)
            {
                Warn(open[0].Line, string.Create(CultureInfo.InvariantCulture, $"no bar lines among the chords: {bars} bars for each line are assumed"), "write bar lines (| Dm | C |) above the words, or give --bars-in-line");
            }

            var pickups = all.Select(LineLayout.Pickups).DefaultIfEmpty(0).Max();
            var inBar = meter.Signature.Numerator;
            var room = Math.Min(pickups, Math.Max(1, inBar / 2));
            room = pickups == 0 ? 0 : room;
            var layouts = new Dictionary<(List<Played>, int), PlacedLine?>();
            ChordSymbol? chord = null;
            foreach (var part in played)
            {
                _headings.Add((_bars, part.Part.Heading, part.Part.Line));
                var verses = part.Family.DistinctBy(other => other.Verse).OrderBy(other => other.Verse).ToList();
                var pitch = 64;
                for (var i = 0; i < part.Lines.Count; i++)
                {
                    var line = part.Lines[i];
                    if (!layouts.TryGetValue((part.Family, i), out var layout))
                    {
                        layout = LineLayout.Of([.. verses.Select(verse => verse.Lines[i])], meter, bars, room);
                        layouts.Add((part.Family, i), layout);
                        if (LineLayout.IsCrowded(line, meter))
                        {
                            Error(line.Line, $"a bar has more chords than the {inBar} units of {meter.Signature}", "write fewer chords in the bar, or give another --meter");
                        }
                        else if (layout is null)
                        {
                            Error(line.Line, string.Create(CultureInfo.InvariantCulture, $"the {line.Syllables.Count} syllables of this line do not fit into its bars"),
                                "give more bars by bar lines among the chords or by --bars-in-line, or put the first chord over an earlier syllable");
                        }
                    }

                    if (layout is null)
                    {
                        continue;
                    }

                    if (_bars + layout.Bars > MostBars)
                    {
                        Error(line.Line, $"the song has more than {MostBars} bars", "write fewer repetitions");
                        return;
                    }

                    Line(part, verses.FindIndex(verse => verse.Verse == part.Verse), line, layout, meter, ref chord, ref pitch);
                    _bars += layout.Bars;
                }
            }
        }

        private void Line(Played part, int verse, SongLine line, PlacedLine layout, BarMeter meter, ref ChordSymbol? chord, ref int pitch)
        {
            var start = meter.Length * _bars;
            var step = meter.Unit * new Rational(1, layout.StepsInUnit);
            var origin = new Origin(options.Name, line.Line, part.Part.Heading.Length > 0 ? part.Part.Heading : null);
            foreach (var placed in layout.Chords)
            {
                _chords.Add((start + (meter.Unit * placed.Unit), placed.Chord, line.Line));
            }

            var before = chord;
            for (var i = 0; i < layout.Notes.Count; i++)
            {
                var note = layout.Notes[i];
                var onset = start + (step * note.Step);
                var end = i + 1 < layout.Notes.Count ? start + (step * layout.Notes[i + 1].Step) : start + (step * layout.EndStep);
                var under = layout.Chords.Where(one => one.Unit * layout.StepsInUnit <= note.Step).Select(one => one.Chord).LastOrDefault()
                    ?? (note.Step < 0 ? layout.Chords.Select(one => one.Chord).FirstOrDefault() : null) ?? before;
                var spelled = Tone(under, ref pitch);
                _notes.Add(new Sung(onset, end, spelled, verse >= 0 && verse < note.Syllables.Length ? note.Syllables[verse] : null, origin));
            }

            chord = layout.Chords.Count > 0 ? layout.Chords[^1].Chord : chord;
        }

        // The chord tone nearest to the tone before, so that the words are spoken on few pitches.
        private static Pitch Tone(ChordSymbol? chord, ref int pitch)
        {
            if (chord is null || chord.IsNoChord)
            {
                return Pitch.FromMidi(pitch);
            }

            pitch = Math.Clamp(chord.Tones.Nearest(pitch), 55, 76);
            var at = pitch;
            foreach (var tone in chord.Tones)
            {
                if (tone.Name.PitchClass == at % 12)
                {
                    return Pitch.AtMidi(tone.Name, at);
                }
            }

            return Pitch.FromMidi(at);
        }

        private Key KeyFromChords()
        {
            var chords = _chords.Select(one => one.Chord).Where(chord => !chord.IsNoChord).ToList();
            if (chords.Count == 0)
            {
                Warn(1, "no key is given and no chord tells it; C major is assumed", "write a line Key: D minor at the top, or give --key");
                return Music.Harmony.Key.CMajor;
            }

            var best = KeySearch.ByChords(chords);
            Warn(1, $"no key is given; {best} is taken from the chords", "write a line Key: D minor at the top, or give --key");
            return best ?? Music.Harmony.Key.CMajor;
        }

        private WrittenMusic Written(BarMeter meter, Key key, TempoMark tempo)
        {
            var pickup = _notes.Count > 0 && _notes[0].Onset < Span.Zero ? -_notes[0].Onset : Span.Zero;
            var first = pickup > Span.Zero ? 1 : 0;
            var measures = new List<Measure>();
            if (first == 1)
            {
                measures.Add(new Measure("0") { IsUncounted = true, ActualLength = pickup });
            }

            for (var bar = 0; bar < _bars; bar++)
            {
                measures.Add(new Measure((bar + 1).ToString(CultureInfo.InvariantCulture)));
            }

            List<MeasureMark>[] marks = [.. measures.Select(_ => new List<MeasureMark>())];
            if (marks.Length == 0)
            {
                return new WrittenMusic([], []);
            }

            marks[0].Add(new Music.Notation.MeterMark(Span.Zero, WrittenMeter.Of(meter)));
            marks[0].Add(new KeyMark(Span.Zero, WrittenKey.Of(key)));
            marks[0].Add(Sign(tempo, meter));
            foreach (var (bar, heading, line) in _headings)
            {
                if (heading.Length > 0)
                {
                    marks[Math.Min(bar + first, marks.Length - 1)].Add(new RehearsalMark(Span.Zero, heading) { Origin = new Origin(options.Name, line, null) });
                }
            }

            foreach (var (at, chord, line) in _chords)
            {
                var bar = BarOf(at, meter);
                marks[bar + first].Add(new ChordMark(at - (meter.Length * bar), [new WrittenChord { Text = chord.Text, Symbol = chord }]) { Origin = new Origin(options.Name, line, null) });
            }

            var events = Events(measures.Count, first, meter, pickup);
            return new WrittenMusic(
                [.. measures.Select((measure, i) => measure with { Marks = [.. marks[i]] })],
                [
                    new WrittenPart("voice", [.. events.Select(voice => new PartMeasure { Voices = [new VoiceMeasure("1", [.. voice])] })])
                    {
                        Name = "Voice",
                        Verses = ["1"],
                    },
                ])
            {
                Headings = [.. Headings()],
                Origin = new Origin(options.Name, null, null),
            };
        }

        private IEnumerable<Heading> Headings()
        {
            if (text.Title is { } title)
            {
                yield return new Heading("work-title", null, title);
            }

            if (text.Author is { } author)
            {
                yield return new Heading("creator", "composer", author);
            }
        }

        private static TempoSign Sign(TempoMark tempo, BarMeter meter)
        {
            var whole = tempo.At(meter, meter.Length * 4).WholesPerMinute;
            var beat = tempo.Level == TempoLevel.Note && NoteUnit.TryFrom(tempo.Note, out var unit)
                ? new Metronome(new BeatUnit(unit, [])) { PerMinute = Decimals.Of(tempo.PerMinute) }
                : null;
            return new TempoSign(Span.Zero) { Metronomes = beat is null ? [] : [beat], SoundQuarters = whole * 4 };
        }

        // Bars count from the first whole one.
        private static int BarOf(Span at, BarMeter meter)
        {
            var quotient = at.Wholes / meter.Length.Wholes;
            return (int)quotient.Floor();
        }

        private List<VoiceEvent>[] Events(int measures, int first, BarMeter meter, Span pickup)
        {
            List<VoiceEvent>[] events = [.. Enumerable.Range(0, measures).Select(_ => new List<VoiceEvent>())];
            var now = -pickup;
            foreach (var (note, next) in _notes.Zip(_notes.Skip(1).Append(null)))
            {
                var end = next is not null && next.Onset < note.End ? next.Onset : note.End;
                Fill(events, first, meter, now, note.Onset, (length, _, _) => new RestEvent(Value(length), length));
                Fill(events, first, meter, note.Onset, end, (length, isFirst, isLast) => new NotesEvent(
                    [WrittenNote.Of(note.Pitch) with { TiedFrom = isFirst ? null : new TieEnd(), TiedTo = isLast ? null : new TieEnd() }], Value(length), length)
                {
                    Lyrics = !isFirst ? [] : [Lyric(note.Syllable)],
                    Annotations = [new Annotation(Inferred, "rhythm and pitch")],
                    Origin = note.Origin,
                });
                now = end;
            }

            Fill(events, first, meter, now, meter.Length * _bars, (length, _, _) => new RestEvent(Value(length), length));
            return events;
        }

        private static Lyric Lyric(TextSyllable? syllable) => syllable is null
            ? new Lyric { Number = "1", Extender = Extender.Continue }
            : new Lyric { Number = "1", Parts = [new LyricPart(syllable.Text, syllable.Place)] };

        private static WrittenValue? Value(Span length) => WrittenValue.TryFrom(length, out var value) ? value : null;

        // Divides a stretch of time at the bar lines.
        private static void Fill(List<VoiceEvent>[] events, int first, BarMeter meter, Span from, Span to, Func<Span, bool, bool, VoiceEvent> make)
        {
            var at = from;
            while (at < to)
            {
                var bar = BarOf(at, meter);
                var end = meter.Length * (bar + 1);
                var stop = end < to ? end : to;
                events[bar + first].Add(make(stop - at, at == from, stop == to));
                at = stop;
            }
        }
    }
}
