using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>Writes small scores as text, one string for each measure. Words in a measure: a meter "5/8" or "3+2/8", "len=1/4" its own
/// length, "K=1" or "K=0:dorian", "Q=3/8:96" a tempo, the signs "|:" ":|" ":|x3" "[1" "[2,3" "]" "||" dc ds segno coda tocoda fine, a
/// rehearsal mark "{B}", a chord "@Am" at the place where it stands, notes and rests "C4:1/4" "z:1/2" (without a length as long as the one
/// before), a tie "C4:1/4-", a grace note "(D4)C4", a triplet note "C4:1/8t", and syllables by verse after a note: "C4=lan-/boats", "_" for
/// a held one and "*" for none.</summary>
internal static class SmallScore
{
    public static WrittenMusic Read(params string[] measures) => Read([("P1", "Voice", measures)]);

    public static WrittenMusic Read(IReadOnlyList<(string Id, string Name, string[] Measures)> parts)
    {
        var grid = new List<Measure>();
        var made = new List<WrittenPart>();
        foreach (var (id, name, measures) in parts)
        {
            var own = new List<PartMeasure>();
            var reader = new Reader();
            for (var m = 0; m < measures.Length; m++)
            {
                var (measure, events) = reader.Measure(measures[m], m);
                if (made.Count == 0)
                {
                    grid.Add(measure);
                }

                own.Add(new PartMeasure { Voices = [new VoiceMeasure("1", [.. events])] });
            }

            made.Add(new WrittenPart(id, [.. own])
            {
                Name = name,
                Verses = [.. Enumerable.Range(1, reader.Verses).Select(verse => verse.ToString(CultureInfo.InvariantCulture))],
            });
        }

        return new WrittenMusic([.. grid], [.. made]);
    }

    private sealed class Reader
    {
        private readonly Dictionary<int, bool> _inWord = [];
        private Span _length = Span.Of(1, 4);
        private bool _isTriplet;
        private int _triplet;
        private int _inTriplet;
        private Pitch? _tied;

        public int Verses { get; private set; }

        public (Measure Measure, List<VoiceEvent> Events) Measure(string text, int index)
        {
            var marks = new List<MeasureMark>();
            var events = new List<VoiceEvent>();
            var at = Span.Zero;
            Span? own = null;
            foreach (var word in text.Split(' ', StringSplitOptions.RemoveEmptyEntries))
            {
                if (char.IsAsciiDigit(word[0]) && word.Contains('/'))
                {
                    var pair = word.Split('/');
                    marks.Add(new MeterMark(Span.Zero, new WrittenMeter(new MeterPair([.. pair[0].Split('+').Select(Number)], Number(pair[1])))));
                }
                else if (word.StartsWith("len=", StringComparison.Ordinal))
                {
                    own = Fraction(word[4..]);
                }
                else if (word.StartsWith("K=", StringComparison.Ordinal))
                {
                    var key = word[2..].Split(':');
                    marks.Add(new KeyMark(at, new WrittenKey(Number(key[0]), key.Length > 1 ? key[1] : null)));
                }
                else if (word.StartsWith("Q=", StringComparison.Ordinal))
                {
                    var tempo = word[2..].Split(':');
                    Assert(NoteUnit.TryFrom(Fraction(tempo[0]), out var unit), word);
                    marks.Add(new TempoSign(at) { Metronomes = [new Metronome(new BeatUnit(unit, [])) { PerMinute = tempo[1] }] });
                }
                else if (word[0] == '@')
                {
                    marks.Add(new ChordMark(at, [new WrittenChord { Text = word[1..] }]));
                }
                else if (word[0] == '{')
                {
                    marks.Add(new RehearsalMark(at, word[1..^1].Replace('~', ' ')));
                }
                else if (Sign(word) is { } sign)
                {
                    marks.Add(sign);
                }
                else
                {
                    at += Note(word, events);
                }
            }

            return (new Measure((index + 1).ToString(CultureInfo.InvariantCulture)) { ActualLength = own, Marks = [.. marks] }, events);
        }

        private static MeasureMark? Sign(string word) => word switch
        {
            "|:" => new RepeatMark(Span.Zero, BarlineSide.Left, IsForward: true),
            ":|" => new RepeatMark(Span.Zero, BarlineSide.Right, IsForward: false),
            _ when word.StartsWith(":|x", StringComparison.Ordinal) => new RepeatMark(Span.Zero, BarlineSide.Right, IsForward: false) { Times = Number(word[3..]) },
            "]" => new EndingMark(Span.Zero, BarlineSide.Right, EndingEdge.Stop, [1]),
            _ when word[0] == '[' => new EndingMark(Span.Zero, BarlineSide.Left, EndingEdge.Start, [.. word[1..].Split(',').Select(Number)]),
            "||" => new BarlineMark(Span.Zero, BarlineSide.Right, "light-light"),
            "dc" => new JumpMark(Span.Of(1, 1), JumpKind.DaCapo),
            "ds" => new JumpMark(Span.Of(1, 1), JumpKind.DalSegno),
            "segno" => new JumpMark(Span.Zero, JumpKind.Segno),
            "coda" => new JumpMark(Span.Zero, JumpKind.Coda),
            "tocoda" => new JumpMark(Span.Of(1, 1), JumpKind.ToCoda),
            "fine" => new JumpMark(Span.Of(1, 1), JumpKind.Fine),
            _ => null,
        };

        private Span Note(string word, List<VoiceEvent> events)
        {
            var parts = word.Split('=', 2);
            var note = parts[0];
            while (note[0] == '(')
            {
                var close = note.IndexOf(')', StringComparison.Ordinal);
                foreach (var grace in note[1..close].Split(','))
                {
                    events.Add(NotesEvent.OfGrace([WrittenNote.Of(PitchOf(grace))], new Grace(), null));
                }

                note = note[(close + 1)..];
            }

            var ties = note.EndsWith('-');
            note = ties ? note[..^1] : note;
            var named = note.Split(':');
            if (named.Length > 1)
            {
                _isTriplet = named[1].EndsWith('t');
                _length = Fraction(named[1].TrimEnd('t'));
            }

            if (_isTriplet && _inTriplet % 3 == 0)
            {
                _triplet++;
            }

            _inTriplet = _isTriplet ? _inTriplet + 1 : 0;
            var value = NoteUnit.TryFrom(_length, out var unit) ? _isTriplet ? new WrittenValue(unit, new Tuplet(_triplet, 3, 2)) : new WrittenValue(unit) : null;
            VoiceEvent made = named[0] == "z"
                ? new RestEvent(value, value is null ? _length : null)
                : new NotesEvent(
                    [
                        WrittenNote.Of(PitchOf(named[0])) with
                        {
                            TiedFrom = _tied == PitchOf(named[0]) ? new TieEnd() : null,
                            TiedTo = ties ? new TieEnd() : null,
                        },
                    ],
                    value,
                    value is null ? _length : null)
                { Lyrics = parts.Length > 1 ? [.. Lyrics(parts[1])] : [] };
            _tied = ties ? PitchOf(named[0]) : null;
            events.Add(made);
            return made.Length;
        }

        private IEnumerable<Lyric> Lyrics(string text)
        {
            var verses = text.Split('/');
            Verses = Math.Max(Verses, verses.Length);
            for (var verse = 0; verse < verses.Length; verse++)
            {
                var number = (verse + 1).ToString(CultureInfo.InvariantCulture);
                var syllable = verses[verse];
                if (syllable == "_")
                {
                    yield return new Lyric { Number = number, Extender = Extender.Continue };
                }
                else if (syllable is not ("*" or ""))
                {
                    var from = _inWord.GetValueOrDefault(verse);
                    var on = syllable.EndsWith('-');
                    _inWord[verse] = on;
                    var place = (from, on) switch
                    {
                        (false, false) => WordPlace.Single,
                        (false, true) => WordPlace.Begin,
                        (true, true) => WordPlace.Middle,
                        _ => WordPlace.End,
                    };
                    yield return new Lyric { Number = number, Parts = [new LyricPart(syllable.TrimEnd('-'), place)] };
                }
            }
        }

        private static int Number(string text) => int.Parse(text, CultureInfo.InvariantCulture);

        private static Span Fraction(string text) =>
            Span.TryParse(text.TrimEnd('.'), out var span) ? text.EndsWith('.') ? span * new Rational(3, 2) : span : throw new FormatException(text);

        private static Pitch PitchOf(string text)
        {
            var octave = text.Length - 1;
            return new Pitch(PitchName.Parse(text[..octave]), Number(text[octave..]));
        }

        private static void Assert(bool holds, string word)
        {
            if (!holds)
            {
                throw new FormatException(word);
            }
        }
    }
}
