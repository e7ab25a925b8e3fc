using GrooveLab.Audio.BuiltInSounds;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>Tests of the samples and zones of the built-in bank, read by an independent parser.</summary>
public sealed class BuiltInBankTests
{
    private const int Rate = 48000;

    private static readonly BankUnderTest Bank = BankUnderTest.Instance;

    [Fact]
    public void Create_ReadByAnotherParser_HasEveryPreset()
    {
        Assert.Equal(2, Bank.File.FileInfo.SoundFontVersion.Major);
        Assert.Equal(4, Bank.File.FileInfo.SoundFontVersion.Minor);
        foreach (var (name, program, _, _, _) in Instruments.All)
        {
            Assert.Equal(name, Assert.Single(Bank.File.Presets, p => p.Bank == 0 && p.PatchNumber == program).Name);
        }

        Assert.Single(Bank.File.Presets, p => p is { Bank: 128, PatchNumber: 0 });
        Assert.Equal(Instruments.All.Length + 1, Bank.File.Presets.Length);
    }

    [Fact]
    public void Create_Twice_GivesTheSameBytes() => Assert.Equal(BuiltInBank.Create(), Bank.Bytes);

    [Fact]
    public void Create_Size_IsAtMostEightMebibytes() => Assert.InRange(Bank.Bytes.Length, 1, 8 << 20);

    [Fact]
    public void Create_EverySample_IsFollowedBy46Zeros()
    {
        // SoundFont 2.04, section 6.1: at least 46 zero data points after each sample.
        foreach (var header in Samples())
        {
            for (var i = header.End; i < header.End + 46; i++)
            {
                Assert.Equal(0, Bank.Frames[i]);
            }
        }
    }

    [Fact]
    public void Create_EveryKeyAndVelocity_SoundsInEveryProgram()
    {
        foreach (var (name, program, _, _, _) in Instruments.All)
        {
            var expected = program switch { 15 => 3, 25 => 2, _ => 1 };
            for (var key = 0; key < 128; key++)
            {
                for (var velocity = 1; velocity < 128; velocity++)
                {
                    Assert.True(Bank.Regions(program, key, velocity).Length == expected, $"{name} {key} {velocity}");
                }
            }
        }
    }

    [Theory]
    [MemberData(nameof(Instruments.Programs), MemberType = typeof(Instruments))]
    public void Samples_OverTheRange_AreThreeOrFourSemitonesApart(int program)
    {
        var (_, _, low, high, _) = Instruments.Of(program);
        int[] roots = [.. Bank.Regions(program).Select(r => (int)r.Sample.OriginalPitch).Distinct().Order()];
        Assert.All(roots.Zip(roots.Skip(1)), pair => Assert.InRange(pair.Second - pair.First, 1, 4));
        Assert.InRange(roots[0] - low, 0, 3);
        Assert.InRange(high - roots[^1], 0, 3);
    }

    [Theory]
    [MemberData(nameof(Instruments.Programs), MemberType = typeof(Instruments))]
    public void Pitch_EveryKeyAndLayer_IsWithinThreeCents(int program)
    {
        var (name, _, low, high, _) = Instruments.Of(program);
        for (var key = low; key <= high; key++)
        {
            foreach (var velocity in Instruments.LayerVelocities)
            {
                foreach (var region in Bank.Strings(program, key, velocity))
                {
                    var cents = Tuning.CentsOff(Bank, region, key);
                    Assert.True(Math.Abs(cents) <= 3, $"{name}, key {key}, velocity {velocity}: {cents:F2} cents");
                }
            }
        }
    }

    [Theory]
    [InlineData(15)]
    [InlineData(25)]
    public void Courses_TwoStrings_AreTwoToFourCentsApart(int program)
    {
        var (_, _, low, high, _) = Instruments.Of(program);
        for (var key = low; key <= high; key++)
        {
            double[] cents = [.. Bank.Strings(program, key, 64).Select(r => Tuning.CentsOff(Bank, r, key)).Order()];
            Assert.InRange(cents[1] - cents[0], 2, 4);
        }
    }

    [Theory]
    [MemberData(nameof(Instruments.Programs), MemberType = typeof(Instruments))]
    public void Layers_BetweenTwoAndSixKilohertz_DifferByThreeDecibelsAgainstTheRest(int program)
    {
        var (name, _, low, high, _) = Instruments.Of(program);
        for (var key = low; key <= high; key += 3)
        {
            double[] bright = [.. Instruments.LayerVelocities.Select(v => Brightness.Of(Bank, program, key, v))];
            Assert.True(bright[1] - bright[0] >= 3 && bright[2] - bright[1] >= 3, $"{name}, key {key}: {bright[0]:F1} {bright[1]:F1} {bright[2]:F1} dB");
        }
    }

    [Fact]
    public void Loops_Seam_IsUnderMinus60Decibels()
    {
        foreach (var header in Looped())
        {
            var seam = Seam.Of(Bank, header);
            Assert.True(seam < -60, $"{header.SampleName}: {seam:F1} dB");
        }
    }

    [Fact]
    public void Loops_Level_DoesNotPump()
    {
        // The level of each eighth of a loop, and of the end of the attack against the loop: a badly chosen loop changes it.
        foreach (var header in Looped())
        {
            var frames = Bank.Sample(header);
            int start = (int)(header.StartLoop - header.Start), length = (int)(header.EndLoop - header.StartLoop);
            var period = header.SampleRate / Measure.KeyFrequency(header.OriginalPitch);
            var whole = Measure.Rms(frames.AsSpan(start, length));
            var stretch = (int)(Math.Max(1, Math.Floor(length / 4.0 / period)) * period);
            for (var at = start >= 3 * stretch ? start - stretch : start; at + stretch <= start + length; at += stretch)
            {
                var step = Math.Abs(Measure.Decibels(Measure.Rms(frames.AsSpan(at, stretch)) / whole));
                Assert.True(step < 1.5, $"{header.SampleName} at {at - start}: {step:F2} dB");
            }
        }
    }

    [Fact]
    public void Samples_AllOfThem_HaveNoConstantPartAndAreNotClipped()
    {
        foreach (var header in Samples())
        {
            var frames = Bank.Sample(header);
            Assert.True(frames.Max(Math.Abs) < 0.995 && frames.Max(Math.Abs) > (BankUnderTest.IsHalo(header) ? 0.01 : 0.02), $"{header.SampleName}: peak {frames.Max(Math.Abs):F3}");
            var looped = header.EndLoop > header.StartLoop;
            ReadOnlySpan<double> part = looped
                ? frames.AsSpan((int)(header.StartLoop - header.Start), (int)(header.EndLoop - header.StartLoop)) : frames;
            var constant = Math.Abs(part.ToArray().Average()) / Measure.Rms(part);
            Assert.True(constant < 0.01, $"{header.SampleName}: constant part {Measure.Decibels(constant):F1} dB");
        }
    }

    [Fact]
    public void Loudness_AtVelocity80_IsWithinThreeDecibelsOverAllInstrumentsAndKeys()
    {
        var levels = new List<(string Where, double Level)>();
        foreach (var (name, program, low, high, _) in Instruments.All)
        {
            for (var key = low; key <= high; key += 3)
            {
                levels.Add(($"{name} {key}", Measure.Loudness(Bank.Render(program, key, 80, 0.6), 0.1)));
            }
        }

        var (least, most) = (levels.MinBy(l => l.Level), levels.MaxBy(l => l.Level));
        Assert.True(most.Level - least.Level <= 3, $"{least} {most}");
    }

    [Theory]
    [MemberData(nameof(Instruments.PluckedPrograms), MemberType = typeof(Instruments))]
    public void Plucks_Onset_IsWithinTwoMilliseconds(int program)
    {
        var (name, _, low, high, _) = Instruments.Of(program);
        for (var key = low; key <= high; key++)
        {
            var note = Bank.Render(program, key, 105, 0.3);
            var peak = note.Max(Math.Abs);
            var onset = Array.FindIndex(note, x => Math.Abs(x) > 0.1 * peak) * 1000.0 / Rate;
            Assert.True(onset <= 2, $"{name} {key}: {onset:F2} ms");
        }
    }

    [Fact]
    public void Clicks_FourOfThem_AreToldApartByPitchAndLength()
    {
        var clicks = new[] { 37, 77, 76, 75 }.Select(key =>
        {
            var x = Bank.Render(0, key, 100, 0.5, Rate, 128);
            var power = Measure.PowerSpectrum(x);
            var pitch = Array.IndexOf(power, power.Max()) * Rate / 2.0 / power.Length;
            var peak = x.Max(Math.Abs);
            return (Pitch: pitch, Length: Array.FindLastIndex(x, v => Math.Abs(v) > 0.01 * peak) * 1.0 / Rate);
        }).ToArray();
        foreach (var (a, b) in clicks.Zip(clicks.Skip(1)))
        {
            Assert.True(b.Pitch / a.Pitch > 1.4, $"{a} {b}");
            Assert.True(b.Length / a.Length > 1.25, $"{a} {b}");
        }
    }

    [Theory]
    [InlineData(37)]
    [InlineData(75)]
    [InlineData(76)]
    [InlineData(77)]
    public void Clicks_Onset_IsFullWithinOneMillisecond(int key)
    {
        foreach (var velocity in Instruments.LayerVelocities)
        {
            var x = Bank.Render(0, key, velocity, 0.3, Rate, 128);
            var peak = x.Max(Math.Abs);
            Assert.InRange(Array.FindIndex(x, v => Math.Abs(v) > 0.05 * peak), 0, 5);
            Assert.InRange(Array.FindIndex(x, v => Math.Abs(v) > 0.85 * peak), 0, Rate / 1000);
        }
    }

    [Fact]
    public void Kit_EveryNamedKey_Sounds()
    {
        foreach (var key in new[] { 36, 37, 39, 42, 70, 75, 76, 77 })
        {
            Assert.Single(Bank.Regions(0, key, 80, 128));
        }
    }

    [Fact]
    public void Zones_EffectsAndPan_AreSensible()
    {
        foreach (var preset in Bank.File.Presets)
        {
            foreach (var region in preset.ResolveRegions())
            {
                Assert.InRange(region.Generators[GeneratorEnum.ReverbEffectsSend], (short)0, (short)400);
                Assert.Equal(0, region.Generators[GeneratorEnum.Pan]);
                Assert.InRange(Math.Pow(2, region.Generators[GeneratorEnum.ReleaseVolumeEnvelope] / 1200.0), 0.05, 4);
            }
        }
    }

    private static IEnumerable<SampleHeader> Samples() => Bank.File.SampleHeaders.Where(h => h.End > h.Start);

    private static IEnumerable<SampleHeader> Looped() => Samples().Where(h => h.EndLoop > h.StartLoop);
}
