using ArchUnitNET.Domain;
using ArchUnitNET.Loader;
using ArchUnitNET.xUnitV3;
using Xunit;
using static ArchUnitNET.Fluent.ArchRuleDefinition;

namespace GrooveLab.Tests;

/// <summary>Which way the arrows point: the music knows nobody, exchange and audio know the music and not each other.</summary>
public sealed class ArchitectureTests
{
    private const string Music = "GrooveLab.Music";
    private const string Exchange = "GrooveLab.Exchange";
    private const string Audio = "GrooveLab.Audio";
    private const string Program = "groovelab";

    private static readonly Architecture House = new ArchLoader().LoadAssemblies(
        System.Reflection.Assembly.Load(Music),
        System.Reflection.Assembly.Load(Exchange),
        System.Reflection.Assembly.Load(Audio),
        System.Reflection.Assembly.Load(Program)).Build();

    [Theory]
    [InlineData(Music, Exchange)]
    [InlineData(Music, Audio)]
    [InlineData(Music, Program)]
    [InlineData(Exchange, Audio)]
    [InlineData(Exchange, Program)]
    [InlineData(Audio, Exchange)]
    [InlineData(Audio, Program)]
    public void Project_OfTheHouse_KnowsNothingOutsideItsDirection(string from, string to)
    {
        var rule = Types().That().ResideInAssembly(System.Reflection.Assembly.Load(from))
            .Should().NotDependOnAny(Types().That().ResideInAssembly(System.Reflection.Assembly.Load(to)));
        rule.Check(House);
    }

    [Fact]
    public void Music_IsPure_RefersToTheBaseLibraryOnly()
    {
        var references = System.Reflection.Assembly.Load(Music).GetReferencedAssemblies().Select(name => name.Name!).ToArray();
        Assert.All(references, name => Assert.True(name.StartsWith("System", StringComparison.Ordinal), name));
    }

    [Theory]
    [InlineData("System.IO.File")]
    [InlineData("System.IO.FileStream")]
    [InlineData("System.Console")]
    [InlineData("System.DateTime")]
    [InlineData("System.Random")]
    [InlineData("System.Diagnostics.Stopwatch")]
    [InlineData("System.Guid")]
    public void Music_IsPure_TouchesNeitherFilesNorClocksNorChance(string type)
    {
        var users = House.Types
            .Where(user => user.Assembly.Name.StartsWith(Music, StringComparison.Ordinal))
            .Where(user => user.Dependencies.Any(dependency => dependency.Target.FullName == type))
            .Select(user => user.FullName);
        Assert.Empty(users);
    }
}
