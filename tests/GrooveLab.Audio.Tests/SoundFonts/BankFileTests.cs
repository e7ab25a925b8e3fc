using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.Synthesis;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Audio.Tests.SoundFonts;

/// <summary>Banks in files: behind links, cut and rewritten while they play, and larger than the memory for them.</summary>
public class BankFileTests
{
    [Fact]
    public void Open_ChainOfLinks_OpensTheBankAtItsEnd()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        file.Link("default.sf2", "alternative");
        file.Link("alternative", Path.Combine("..", Path.GetFileName(file.Folder), "bank.sf2"));

        var bank = SoundFontBank.Open(Path.Combine(file.Folder, "default.sf2"));

        Assert.Equal("default.sf2", bank.Name);
        Assert.Equal(3, bank.Presets.Count);
        Assert.NotEmpty(bank.Resolve(bank.Presets[0]).Regions);
    }

    [Fact]
    public void Open_LinkToNothing_NamesItsTarget()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var link = file.Link("default.sf2", "not-installed.sf2");

        var problem = Assert.Throws<SoundFontException>(() => SoundFontBank.Open(link));

        Assert.Equal("default.sf2: it is a link to not-installed.sf2, which does not exist", problem.Message);
    }

    [Fact]
    public void Open_LinksInACircle_AreRefused()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        file.Link("a.sf2", "b.sf2");
        var link = file.Link("b.sf2", "a.sf2");

        Assert.Equal("b.sf2", Assert.Throws<SoundFontException>(() => SoundFontBank.Open(link)).Place);
    }

    [Fact]
    public void Open_FolderOrEmptyFile_IsRefused()
    {
        using var file = new BankFile([]);

        Assert.Contains("0 bytes", Assert.Throws<SoundFontException>(() => SoundFontBank.Open(file.Path)).Reason, StringComparison.Ordinal);
        Assert.Contains("cannot be read", Assert.Throws<SoundFontException>(() => SoundFontBank.Open(file.Folder)).Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Render_FileCutWhileItPlays_PlaysOn()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var expected = Play(TestBanks.Load(TestBanks.VariedFile()), _ => { });

        var sound = Play(SoundFontBank.Open(file.Path), _ => File.WriteAllBytes(file.Path, []));

        Assert.Equal(expected, sound);
        Assert.Contains(sound, value => value != 0);
    }

    [Fact]
    public void Prepare_FileCutSinceItWasOpened_IsRefused()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var bank = SoundFontBank.Open(file.Path);
        File.WriteAllBytes(file.Path, TestBanks.VariedFile()[..100]);

        var problem = Assert.Throws<SoundFontException>(() => bank.Prepare(bank.Presets[0]));

        Assert.Equal("bank.sf2: the file has changed since it was opened", problem.Message);
    }

    [Fact]
    public void Prepare_FileRewrittenWithTheSameLength_IsRefused()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var bank = SoundFontBank.Open(file.Path);
        File.WriteAllBytes(file.Path, new byte[TestBanks.VariedFile().Length]);
        File.SetLastWriteTimeUtc(file.Path, new DateTime(2001, 2, 3, 0, 0, 0, DateTimeKind.Utc));

        Assert.Contains("changed", Assert.Throws<SoundFontException>(() => bank.Prepare(bank.Presets[0])).Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Prepare_FileReplacedByAnother_ReadsTheOneThatWasOpened()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var bank = SoundFontBank.Open(file.Path);
        File.WriteAllBytes(file.Path + ".new", new byte[1000]);
        File.Move(file.Path + ".new", file.Path, overwrite: true);

        Assert.Equal(Play(TestBanks.Load(TestBanks.VariedFile()), _ => { }), Play(bank, _ => { }));
    }

    [Fact]
    public void Prepare_PresetsBeyondTheBudget_DropsThoseUnusedForLongest()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var bank = SoundFontBank.Open(file.Path);
        bank.MemoryBudget = 1;

        var samples = PrepareAll(bank);
        Collect();

        Assert.False(samples[0].IsAlive);
        Assert.True(samples[^1].IsAlive);
        Assert.Null(bank.TryGetResolved(bank.Presets[0]));
        Assert.NotNull(bank.TryGetResolved(bank.Presets[^1]));
        Assert.Equal(Play(TestBanks.Load(TestBanks.VariedFile()), _ => { }), Play(bank, _ => { }));
    }

    [Fact]
    public void Prepare_PresetsWithinTheBudget_KeepsThem()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var bank = SoundFontBank.Open(file.Path);

        var samples = PrepareAll(bank);
        Collect();

        Assert.All(samples, sample => Assert.True(sample.IsAlive));
        GC.KeepAlive(bank);
    }

    [Fact]
    public void Render_ItsPresetDropped_PlaysOn()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var expected = Play(TestBanks.Load(TestBanks.VariedFile()), _ => { });
        var bank = SoundFontBank.Open(file.Path);
        bank.MemoryBudget = 1;

        var sound = Play(bank, synth =>
        {
            PrepareAll(bank);
            Collect();
            // Selected again, it is found although the bank has dropped it.
            synth.Program(0, 0);
        });

        Assert.Equal(expected, sound);
    }

    [Fact]
    public void Program_PreparedBeyondTheBudget_IsReadyForItsChannel()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var bank = SoundFontBank.Open(file.Path);
        bank.MemoryBudget = 1;
        var synth = new SoundFontSynth(bank, 48000);
        synth.WarmUp();

        synth.Prepare(0, 40);
        synth.Prepare(9, 0);
        synth.Prepare(1, 0);
        Collect();
        synth.Program(0, 40);

        Assert.Equal(0, synth.UnpreparedPrograms);
        Assert.Equal(40, synth.PresetOn(0)!.Program);
    }

    [Fact]
    public void Prepare_PresetLargerThanAnyMayBe_IsRefused()
    {
        using var file = new BankFile(TestBanks.VariedFile());
        var bank = SoundFontBank.Open(file.Path);
        bank.Samples.MaxPresetSize = 100;

        var problem = Assert.Throws<SoundFontException>(() => bank.Prepare(bank.Presets[0]));

        Assert.Equal("bank.sf2: the samples of one preset take more than 0 MB", problem.Message);
    }

    // Debian's fluidr3mono-gm-soundfont decodes to 124 MB.
    [Fact]
    public void Prepare_EveryPresetOfARealBank_KeepsNoMoreThanTheBudget()
    {
        const int Budget = 16 << 20;
        const string Path = "/usr/share/sounds/sf3/FluidR3Mono_GM.sf3";
        References.Require(File.Exists(Path), $"{Path} is not installed");
        var bank = SoundFontBank.Open(Path);
        bank.MemoryBudget = Budget;

        var samples = PrepareAll(bank);
        Collect();
        var pools = samples.Select(sample => sample.Target).OfType<ResolvedPreset>()
            .SelectMany(preset => preset.Regions).Select(region => region.Pool).Distinct().ToArray();

        Assert.InRange(pools.Sum(pool => pool.Size), Budget / 2, Budget);
        Assert.All(bank.Presets, preset => Assert.NotEmpty(bank.Resolve(preset).Regions));
    }

    [System.Runtime.CompilerServices.MethodImpl(System.Runtime.CompilerServices.MethodImplOptions.NoInlining)]
    private static WeakReference[] PrepareAll(SoundFontBank bank) =>
        [.. bank.Presets.Select(preset => new WeakReference(bank.Resolve(preset)))];

    private static void Collect()
    {
        GC.Collect();
        GC.WaitForPendingFinalizers();
        GC.Collect();
    }

    private static float[] Play(SoundFontBank bank, Action<SoundFontSynth> meanwhile)
    {
        var synth = Playing.Dry(bank);
        synth.NoteOn(0, 60, 100);
        var first = synth.Left(1000);
        meanwhile(synth);
        synth.NoteOn(0, 64, 100);
        return [.. first, .. synth.Left(20_000)];
    }
}
